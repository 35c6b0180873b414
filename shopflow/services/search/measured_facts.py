"""Facts of what was measured: "stem 5.5 mm", "guide clearance 0.05 mm", "guide bronze"."""

from __future__ import annotations

import re
from math import radians
from typing import NamedTuple

from sqlalchemy import or_, select
from sqlalchemy.orm import Session

from shopflow.models import Measurement, MeasurementKind, Operation, OperationKind, Visit
from shopflow.models.operation import DROPPED_STEP_STATES
from shopflow.models.places import PlaceKind
from shopflow.services.registry.customers import contains
from shopflow.services.search.asked_facts import (
    NUMBER,
    Fact,
    FactReader,
    as_number,
    measured,
    spaced,
    visit_in,
)
from shopflow.texts import gettext
from shopflow.units import CONDITION, CONDITIONS, UNITS, parse, pretty_text, to_si, units_of

STEMS = (
    "stem diameter", "stem diameter top", "stem diameter middle", "stem diameter bottom",
)  # fmt: skip
READ_ELSEWHERE = ("seat angle", "valve head diameter", "stem diameter")
"""Kinds that flow tests state as well."""

COARSEST = radians(0.05)
"""Half of the last digit that people name angles by."""

LENGTH = r"(mm|in(?:ch(?:es)?)?\b|\"|″)\.?"
MATERIALS = (
    "aluminum bronze", "aluminium bronze", "manganese bronze", "phosphor bronze",
    "silicon bronze", "bronze", "brass", "cast iron", "iron", "powder metal", "powdered metal",
    "sintered", "steel",
)  # fmt: skip
"""Materials that guides are made of, those of several words first. Common practice, no source."""


class _Kind(NamedTuple):
    code: str
    name: str
    dimension: str


def readers(db: Session, text: str) -> list[tuple[re.Pattern[str], FactReader]]:
    """Readers of guides' materials, of stems, and of each kind of measurement by its name."""
    if not _MEASURED.search(text):
        # Most texts are names: the kinds of measurement need not be read for them.
        return [(_GUIDES, _guides)]
    kinds = db.execute(
        select(MeasurementKind.code, MeasurementKind.name, MeasurementKind.dimension).where(
            MeasurementKind.code.not_in(READ_ELSEWHERE)
        )
    )
    by_name = [_Kind(*row) for row in kinds]
    by_name.sort(key=lambda kind: len(kind.name), reverse=True)
    named = [
        (_pattern(name, kind.dimension), _reader(kind))
        for kind in by_name
        for name in dict.fromkeys((kind.name, kind.code))
    ]
    return [(_GUIDES, _guides), *named, (_STEMS, _stems)]


def _pattern(name: str, dimension: str) -> re.Pattern[str]:
    """A kind's name, then a number in one of its units, or a condition."""
    if dimension == CONDITION:
        stem = name.lower().removesuffix(" condition")
        return re.compile(rf"(?i)(?<!\w){spaced(stem)}s?\s*({'|'.join(CONDITIONS)})(?!\w)")
    units = "|".join(sorted(map(re.escape, units_of(dimension)), key=len, reverse=True))
    unit = {"length": LENGTH, "angle": r"(°|deg(?:rees?)?\b\.?)?"}.get(dimension, rf"({units})")
    return re.compile(rf"(?i)(?<!\w){spaced(name)}\s*(?:of\s+)?{NUMBER}{unit}(?!\w)")


def _reader(kind: _Kind) -> FactReader:
    def condition(match: re.Match[str], side: str) -> Fact:
        value = parse(match[1], CONDITION)
        words = f"{kind.name.lower()} {value.text}"
        return measured((kind.code,), "", (value.si, value.si), words, side)

    def reader(match: re.Match[str], side: str) -> Fact:
        return _about((kind.code,), kind.name.lower(), kind.dimension, match, side)

    return condition if kind.dimension == CONDITION else reader


def _stems(match: re.Match[str], side: str) -> Fact:
    return _about(STEMS, "stem diameter", "length", match, side, "stem_diameter_si")


def _about(
    codes: tuple[str, ...],
    name: str,
    dimension: str,
    match: re.Match[str],
    side: str,
    column: str = "",
) -> Fact:
    """A fact of these kinds about the value typed, to half of its last digit."""
    number, unit = match[1], _unit(match[2], dimension)
    decimals = len(re.split("[.,]", number)[1]) if re.search("[.,]", number) else 0
    half = to_si(0.5 * 10**-decimals, unit) - to_si(0.0, unit)
    if dimension == "angle":
        half = min(half, COARSEST)
    value = to_si(as_number(number), unit)
    words = f"{name} {pretty_text(f'{number} {unit}')}"
    return measured(codes, column, (value - half, value + half), words, side)


def _unit(typed: str | None, dimension: str) -> str:
    """The symbol of the unit typed, as "in" for inches."""
    if dimension == "angle":
        return "deg"
    symbols = {symbol.lower(): symbol for symbol in UNITS}
    return symbols.get((typed or "").lower().rstrip("."), "in")


def _guides(match: re.Match[str], side: str) -> Fact:
    """Visits with guide work planned or done in a material, or a guide measured that names it."""
    material = " ".join((match[1] or match[2]).lower().split())
    like = contains(material)
    steps = (
        select(Operation.job_head_id)
        .join(Operation.kind)
        .where(
            OperationKind.code == "guide",
            Operation.state.not_in(DROPPED_STEP_STATES),
            or_(
                *(
                    column.ilike(like, escape="\\")
                    for column in (Operation.instructions, Operation.notes, Operation.customer_text)
                )
            ),
        )
    )
    noted = (
        select(Measurement.job_head_id)
        .join(Measurement.kind)
        .where(
            Measurement.counts,
            MeasurementKind.place_kind == PlaceKind.GUIDE,
            Measurement.notes.ilike(like, escape="\\"),
        )
    )
    visits = select(Visit.id).where(or_(Visit.id.in_(steps), Visit.id.in_(noted)))
    return Fact(gettext("guides of {material}", material=material), visit_in(visits))


_MEASURED = re.compile(
    rf"(?i)\d\s*(?:mm|cm|in|\"|″|cc|ml|n\b|lbf|kgf|deg|°)|\b(?:{'|'.join(CONDITIONS)})\b"
)
_MATERIAL = "|".join(map(spaced, MATERIALS))
_GUIDES = re.compile(
    rf"(?i)(?<!\w)guides?\s+(?:of\s+)?({_MATERIAL})(?!\w)|(?<!\w)({_MATERIAL})[\s-]+guides?(?!\w)"
)
_STEMS = re.compile(
    rf"(?i)(?<!\w)(?:valve\s+)?stems?(?:\s+diameters?)?\s*(?:of\s+)?{NUMBER}{LENGTH}(?!\w)"
)
