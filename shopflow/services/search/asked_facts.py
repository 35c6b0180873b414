"""Facts that a look-up asks for beside names: seat angle, step, purpose, induction, fuel, side,
valve size, cylinders, the status of the casting, leaks and cracks."""

from __future__ import annotations

import re
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace
from math import radians
from typing import Any

from sqlalchemy import ColumnElement, Select, and_, func, or_, select
from sqlalchemy.orm import Session

from shopflow.models import (
    BenchSession,
    EngineType,
    Head,
    HeadStatus,
    Induction,
    IntegrityKind,
    IntegrityTest,
    Job,
    LookupText,
    Measurement,
    MeasurementKind,
    Operation,
    OperationKind,
    OperationState,
    Purpose,
    SeatCut,
    SeatProfile,
    Visit,
)
from shopflow.models.folding import plain
from shopflow.services.shop.built_in_kinds import SEARCH_WORDS
from shopflow.texts import gettext, ngettext, translated
from shopflow.units import pretty_text, to_si

ANGLE_TOLERANCE = radians(0.05)
LENGTH_TOLERANCE = 0.05e-3
"""Half of the last digit that people name angles and valve sizes by, in radians and m."""

SIDES = ("intake", "exhaust")
NUMBER = r"(?<![\w.,])(\d{1,3}(?:[.,]\d+)?)\s*"
_LENGTH = NUMBER + r"(mm|in(?:ch(?:es)?)?\b|\"|″)\.?\s*"
_SIDE = r"(intake|inlet|exhaust)"
_VALVES = r"valves?(?:\s+heads?(?:\s+diameters?)?)?"
_FUELS = {
    "gasoline": ("gasoline", "petrol"),
    "petrol": ("gasoline", "petrol"),
    **{
        name: (name,)
        for name in (
            "avgas", "cng", "diesel", "e10", "e85", "ethanol", "hydrogen", "kerosene", "lpg",
            "methanol", "propane",
        )
    },
}  # fmt: skip
_INDUCTIONS = {
    "turbocharged": Induction.TURBOCHARGED,
    "turbocharger": Induction.TURBOCHARGED,
    "turbo": Induction.TURBOCHARGED,
    "supercharged": Induction.SUPERCHARGED,
    "supercharger": Induction.SUPERCHARGED,
    "naturally aspirated": Induction.NATURAL,
    "natural aspiration": Induction.NATURAL,
}
_PURPOSES = {purpose.value: purpose for purpose in Purpose if purpose is not Purpose.OTHER}


@dataclass(frozen=True)
class Fact:
    """One fact asked for: in words, and as a clause of LookupText."""

    words: str
    clause: ColumnElement[bool]
    side: str = ""
    """The side it is asked of; empty for none."""


FactReader = Callable[[re.Match[str], str], Fact]
"""A fact of what was matched, and of the side the text names, empty for none."""


def _seat_angle(match: re.Match[str], side: str) -> Fact:
    number = next(group for group in match.groups() if group)
    angle = radians(as_number(number))
    words = gettext("seat angle {angle}°", angle=number.replace(",", "."))
    if side:
        words = gettext("{fact}, {side}", fact=words, side=translated(side))
    bounds = (angle - ANGLE_TOLERANCE, angle + ANGLE_TOLERANCE)
    fact = measured(("seat angle",), "seat_angle_si", bounds, words, side)
    return replace(fact, clause=or_(fact.clause, visit_in(_cut_at(angle, side))))


def _cut_at(angle: float, side: str) -> Select[int]:
    """Visits with a seat profile whose contact is cut at about this angle."""
    cuts, profiles = SeatCut.__table__.c, SeatProfile.__table__.c
    query = (
        select(profiles.job_head_id)
        .join(SeatCut.__table__, cuts.profile_id == profiles.id)
        .where(
            profiles.job_head_id.is_not(None),
            SeatCut.is_contact,
            cuts.angle_si.between(angle - ANGLE_TOLERANCE, angle + ANGLE_TOLERANCE),
        )
    )
    return query.where(profiles.side == side) if side else query


def _valve(match: re.Match[str], side: str) -> Fact:
    named = [group.lower() for group in match.groups() if group]
    number = next(word for word in named if word[0].isdigit())
    unit = "mm" if "mm" in named else "in"
    side = next((as_side(word) for word in named if as_side(word) in SIDES), side)
    size = to_si(as_number(number), unit)
    diameter = pretty_text(f"{number} {unit}")
    words = (
        gettext("{side} valve head {diameter}", side=translated(side), diameter=diameter)
        if side
        else gettext("valve head {diameter}", diameter=diameter)
    )
    bounds = (size - LENGTH_TOLERANCE, size + LENGTH_TOLERANCE)
    return measured(("valve head diameter",), "head_diameter_si", bounds, words, side)


def measured(
    codes: Sequence[str], column: str, bounds: tuple[float, float], words: str, side: str
) -> Fact:
    """Visits with a measurement of these kinds within bounds, on a side where one is named.

    `column` is that of a flow test that says the same; empty where none does.
    """
    columns = Measurement.__table__.c
    kinds = select(MeasurementKind.id).where(MeasurementKind.code.in_(codes))
    visits = select(columns.job_head_id).where(
        Measurement.counts, columns.kind_id.in_(kinds), columns.value_si.between(*bounds)
    )
    tests = BenchSession.__table__.c
    if side:
        visits = visits.where(columns.side == side)
    if not column:
        return Fact(words, visit_in(visits), side)
    tested = select(tests.job_head_id).where(BenchSession.counts, tests[column].between(*bounds))
    if side:
        tested = tested.where(tests.side == side)
    return Fact(words, or_(visit_in(tested), visit_in(visits)), side)


def _cylinders(match: re.Match[str], side: str) -> Fact:
    count = next(group for group in match.groups() if group)
    types = select(EngineType.id).where(EngineType.cylinders == int(count))
    words = ngettext("{num} cylinder", "{num} cylinders", int(count))
    return Fact(words, LookupText.engine_type_id.in_(types))


def _purpose(match: re.Match[str], side: str) -> Fact:
    purpose = _PURPOSES["tow" if match[1].lower() == "towing" else match[1].lower()]
    words = gettext("purpose {purpose}", purpose=purpose)
    return Fact(words, _of_job(Job.purpose == purpose))


def _induction(match: re.Match[str], side: str) -> Fact:
    induction = _INDUCTIONS[" ".join(match[1].lower().split())]
    is_natural = induction is Induction.NATURAL
    words = gettext("naturally aspirated") if is_natural else induction.value
    return Fact(words, _of_job(Job.induction == induction))


def _fuel(match: re.Match[str], side: str) -> Fact:
    """Visits on jobs of this fuel; where a job names none, its engine type's."""
    fuel = next(group for group in match.groups() if group).lower()
    names = _FUELS.get(fuel, (fuel,))
    visits = (
        select(Visit.id)
        .join(Visit.job)
        .join(Visit.head)
        .join(Head.engine_type)
        .where(or_(_holds(Job.fuel, names), and_(Job.fuel == "", _holds(EngineType.fuel, names))))
    )
    return Fact(gettext("fuel {fuel}", fuel=fuel), visit_in(visits))


def _holds(column: Any, names: tuple[str, ...]) -> ColumnElement[bool]:
    """Condition that a text has one of these words: ethanol is not in methanol."""
    text = func.lower(column)
    starts = ("", *(f"%{mark}" for mark in " /,(-+"))
    return or_(*(text.like(f"{start}{name}%") for name in names for start in starts))


def _status(match: re.Match[str], side: str) -> Fact:
    """Visits of castings of this status."""
    status = HeadStatus("spare" if match[1].lower().startswith("spare") else match[1].lower())
    castings = select(Visit.id).join(Visit.head).where(Head.status == status)
    return Fact(gettext("casting {status}", status=status), visit_in(castings))


def _leaks(match: re.Match[str], side: str) -> Fact:
    """Visits with a test that found a leak or a crack, or whose notes have the word typed."""
    word = match[1].lower()
    tests = select(IntegrityTest.job_head_id).where(IntegrityTest.counts, IntegrityTest.stops)
    is_crack = IntegrityTest.kind == IntegrityKind.CRACK
    if word.startswith("crack"):
        words = gettext("cracks, or “{word}” in notes", word=word)
        failed = visit_in(tests.where(is_crack))
    else:
        words = gettext("leaks, or “{word}” in notes", word=word)
        failed = visit_in(tests.where(~is_crack))
    return Fact(words, or_(failed, LookupText.notes.contains(plain(word), autoescape=True)))


def side_tested(side: str) -> Fact:
    """A fact of the side alone: a test of it."""
    tested = select(BenchSession.job_head_id).where(BenchSession.counts, BenchSession.side == side)
    return Fact(gettext("{side} side tested", side=translated(side)), visit_in(tested), side)


def steps(db: Session) -> list[tuple[re.Pattern[str], FactReader]]:
    """Readers for each kind of step, the longest words first: its name, its code of several words,
    and the trade's other words for it.

    A name that is also a word of measurements, as "Port", is read only where it is all of a text.
    """
    kinds = db.execute(select(OperationKind.id, OperationKind.code, OperationKind.name)).all()
    measured = " ".join(db.scalars(select(MeasurementKind.name))).lower().split()
    readers: list[tuple[str, re.Pattern[str], FactReader]] = []
    for key, code, name in kinds:
        is_ambiguous = name.lower() in measured
        exact = {name, *([code.replace("-", " ")] if "-" in code else [])}
        readers += [
            (word, _word(word, alone=is_ambiguous and word == name), _step(key, name))
            for word in exact
        ]
        readers += [
            (word, _word(word), _step(key, name, word)) for word in SEARCH_WORDS.get(code, ())
        ]
    readers.sort(key=lambda reader: len(reader[0]), reverse=True)
    return [(pattern, reader) for _, pattern, reader in readers]


def _word(word: str, *, alone: bool = False) -> re.Pattern[str]:
    """A pattern of whole words, or of a text that is nothing else."""
    start, end = (r"^\s*", r"\s*$") if alone else (r"(?<!\w)", r"(?!\w)")
    return re.compile(f"{start}{spaced(word)}{end}", re.IGNORECASE)


def _step(kind: int, name: str, other_word: str = "") -> FactReader:
    """Visits on which a step was done; by another word for it, also those that note the word."""
    done = visit_in(
        select(Operation.job_head_id).where(
            Operation.kind_id == kind, Operation.state == OperationState.DONE
        )
    )
    if not other_word:
        return lambda match, side: Fact(gettext("step done: {step}", step=name), done)
    noted = LookupText.notes.contains(plain(other_word), autoescape=True)
    return lambda match, side: Fact(
        gettext("step done: {step}, or “{word}” in notes", step=name, word=other_word),
        or_(done, noted),
    )


def spaced(name: str) -> str:
    """The pattern of a name, however its words are parted."""
    return r"[\s-]+".join(map(re.escape, name.replace("-", " ").split()))


def _of_job(clause: ColumnElement[bool]) -> ColumnElement[bool]:
    return visit_in(select(Visit.id).join(Visit.job).where(clause))


def visit_in(visits: Select[int]) -> ColumnElement[bool]:
    """Condition of LookupText that its visit is among these."""
    return LookupText.job_head_id.in_(visits)


def as_side(word: str) -> str:
    """A side as it is on record; "inlet" is the intake."""
    return "intake" if word.lower() == "inlet" else word.lower()


def as_number(number: str) -> float:
    """A number as typed, with a point or a comma."""
    return float(number.replace(",", "."))


def _words(names: Mapping[str, Any]) -> str:
    return "|".join(map(spaced, sorted(names, key=len, reverse=True)))


SIDE = re.compile(rf"(?i)(?<!\w){_SIDE}(?:\s+(?:sides?|ports?|valves?))?(?!\w)")
READERS: tuple[tuple[re.Pattern[str], FactReader], ...] = (
    (
        re.compile(
            rf"(?i){NUMBER}(?:°|deg(?:rees?|s)?\b\.?)(?:[\s-]+seats?(?:\s+angle)?\b)?"
            rf"|(?<!\w)seat\s+angles?\s*(?:of\s*)?{NUMBER}(?:°|deg(?:rees?|s)?\b\.?)?"
            r"|(?<!\w)seats?\s+([1-8]\d(?:[.,]\d)?)(?:\s*(?:°|deg(?:rees?|s)?\b\.?)|"
            r"(?![\w.,]|\s*(?:mm\b|in(?:ch(?:es)?)?\b|\"|″)))"
        ),
        _seat_angle,
    ),
    (re.compile(rf"(?i){_LENGTH}(?:{_SIDE}\s*)?valves?(?:\s+heads?)?(?!\w)"), _valve),
    (re.compile(rf"(?i){_LENGTH}{_SIDE}(?!\w)"), _valve),
    (re.compile(rf"(?i)(?<!\w)(?:{_SIDE}\s+)?{_VALVES}(?:\s+of)?\s+{_LENGTH}"), _valve),
    (
        re.compile(
            r"(?i)(?<![\w.,])(\d{1,2})[\s-]*cyl(?:inders?)?\b\.?"
            r"|(?<!\w)[vi][\s-]?(2|4|6|8|10|12|16)(?!\w)"
        ),
        _cylinders,
    ),
    (re.compile(rf"(?i)(?<!\w)({_words(_PURPOSES)}|towing)(?!\w)"), _purpose),
    (re.compile(rf"(?i)(?<!\w)({_words(_INDUCTIONS)})(?!\w)"), _induction),
    (re.compile(r"(?i)(?<!\w)(scrapped|sold|spares?)(?:\s+castings?)?(?!\w)"), _status),
    (re.compile(r"(?i)(?<!\w)(leaks?|leaking|leaky|cracks|cracked)(?!\w)"), _leaks),
    (re.compile(rf"(?i)(?<!\w)fuel:?\s+([\w-]+)|(?<!\w)({_words(_FUELS)})(?!\w)"), _fuel),
)
"""Patterns of each fact; the first that matches a stretch of a text has it."""
