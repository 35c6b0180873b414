"""Meaning of a typed text: an engine, a number, a customer, or words of a note."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, literal, or_
from sqlalchemy.orm import Session

from shopflow.models import LookupText, Visit
from shopflow.services.matching import name_index, trigrams
from shopflow.services.matching.fuzzy import bare, bare_column, plain
from shopflow.services.registry import engine_types as registry_engine_types
from shopflow.services.registry.customers import contains
from shopflow.texts import gettext, ngettext

FEWEST_LETTERS = 3
"""Letters below which a text is a part of nearly everything."""

_DECIMAL = re.compile(r"\d+[.,]\d+")
"""A size, or a number of its own: "2.02" is no part of the job number 2026-0001."""

MOST_REASONS = 3
"""Engine types and customers that are named where a text is explained."""


@dataclass(frozen=True)
class Meaning:
    """Possible meanings of a text: engine types and customers by key, each with the reason."""

    text: str
    engine_types: Mapping[int, str]
    customers: Mapping[int, str]
    written: ColumnElement[bool] | None
    """Condition that a visit's numbers or notes hold the text; None where it is too short."""

    is_common: bool
    """True where so many may hold it that the index is no help."""

    @property
    def ways(self) -> list[ColumnElement[bool]]:
        """Conditions on a visit's LookupText, of which one is enough."""
        keys = (
            (LookupText.engine_type_id, self.engine_types),
            (LookupText.customer_id, self.customers),
        )
        by_text = [] if self.written is None else [self.written]
        return [*(column.in_(meant) for column, meant in keys if meant), *by_text]

    @property
    def reach(self) -> tuple[bool, int]:
        """Number of matches expected, for comparison with another meaning's."""
        return self.is_common, len(self.engine_types) + len(self.customers)

    @property
    def understood(self) -> str:
        """The text and what it may mean, as “342” (displaces 342 in³; or in numbers and notes)."""
        reasons = list(dict.fromkeys([*self.engine_types.values(), *self.customers.values()]))
        more = len(reasons) - MOST_REASONS
        named = reasons[:MOST_REASONS]
        if more > 0:
            named.append(ngettext("{num} more", "{num} more", more))
        if not named:
            return gettext("“{text}” (in numbers and notes)", text=self.text)
        return gettext(
            "“{text}” ({meanings}; or in numbers and notes)",
            text=self.text,
            meanings="; ".join(named),
        )

    def why(self, row: Row[*tuple[Any, ...]]) -> str:
        """Reason why a visit's row matches the text, notes apart; empty where it does not."""
        by_key = (
            self.engine_types.get(row.engine_type_id),
            self.customers.get(row.customer_id),
        )
        return "; ".join([*self._numbers(row), *(reason for reason in by_key if reason)])

    def note_of(self, visit: Visit) -> str:
        """The first note of a visit that holds the text, with the words around it."""
        holding = (
            f"{name}: “{_around(self.text, note)}”"
            for name, note in _notes_of(visit)
            if self._plain in plain(note)
        )
        # A text of several lines may begin in one note and end in the next.
        return next(holding, gettext("notes"))

    def _numbers(self, row: Row[*tuple[Any, ...]]) -> Iterator[str]:
        wanted = self._bare
        if len(wanted) < FEWEST_LETTERS:
            return
        is_decimal = _DECIMAL.fullmatch(self.text) is not None
        for reason, number in (
            (gettext("casting number {number}"), row.casting_number),
            (gettext("serial {number}"), row.serial),
            (gettext("number {number}"), row.tag),
            (gettext("earlier number {number}"), row.earlier_number or ""),
        ):
            if wanted == bare(number) if is_decimal else wanted in bare(number):
                yield reason.format(number=number)

    @cached_property
    def _plain(self) -> str:
        return plain(self.text)

    @cached_property
    def _bare(self) -> str:
        return bare(self.text)


def _notes_of(visit: Visit) -> Iterator[tuple[str, str]]:
    """Every note of a head's visit, those that cost no further query first."""
    yield gettext("asked for"), visit.job.asked_for
    yield gettext("job notes"), visit.job.notes
    yield gettext("condition"), visit.condition
    yield gettext("came back because"), visit.came_back_because
    yield gettext("head notes"), visit.head.notes
    yield from ((gettext("step notes"), step.notes) for step in visit.operations)
    yield from ((gettext("test notes"), session.notes) for session in visit.sessions)


def read(db: Session, text: str) -> Meaning:
    """Read the possible meanings of a text, misspellings forgiven."""
    phrases = _phrases(text)
    few = trigrams.seldom(db, phrases) if phrases else None
    return Meaning(
        text=text,
        engine_types={match.key: match.why for match in registry_engine_types.matches(db, text)},
        customers=customers_called(db, text),
        written=_written(phrases, few, as_whole=bool(_DECIMAL.fullmatch(text)))
        if phrases
        else None,
        is_common=bool(phrases) and few is None,
    )


def numbers_like(text: str, *columns: Any) -> list[ColumnElement[bool]]:
    """Clauses for numbers that hold the text, spaces, hyphens and the like left out of account."""
    wanted = bare(text)
    if len(wanted) < FEWEST_LETTERS:
        return []
    return [bare_column(column).like(contains(wanted), escape="\\") for column in columns]


def _phrases(text: str) -> dict[str, str]:
    """Columns of LookupText and the folded text that one of them is to hold."""
    number = bare(text)
    return {
        **({"numbers": number} if len(number) >= FEWEST_LETTERS else {}),
        **({"notes": plain(text)} if len(text) >= FEWEST_LETTERS else {}),
    }


def _written(
    phrases: Mapping[str, str], few: Select[int] | None, *, as_whole: bool
) -> ColumnElement[bool]:
    """Condition that one of the columns holds its text, within few visits where these are known.

    `as_whole`: the number is one of the row's numbers, not a part of one.
    """
    columns = LookupText.__table__.c
    conditions: dict[str, ColumnElement[bool]] = {
        name: columns[name].like(contains(text), escape="\\") for name, text in phrases.items()
    }
    if as_whole and "numbers" in phrases:
        number = literal(" ") + columns["numbers"] + literal(" ")
        conditions["numbers"] &= number.like(f"% {phrases['numbers']} %")
    either = or_(*conditions.values())
    return either if few is None else and_(LookupText.job_head_id.in_(few), either)


def _around(text: str, note: str, most: int = 60) -> str:
    """An excerpt of a note with the text in it."""
    line = " ".join(note.split())
    # Where folding changed the length, the place is near enough.
    index = plain(line).find(plain(text))
    start = line.rfind(" ", 0, max(0, index - most // 3)) + 1 if len(line) > most else 0
    piece = line[start : start + most].strip()
    return f"{'…' if start else ''}{piece}{'…' if start + most < len(line) else ''}"


def customers_called(db: Session, text: str) -> dict[int, str]:
    """Customers whose name, or one word of it, is the text typed, misspellings forgiven, by key."""
    if len(text.strip()) < FEWEST_LETTERS:
        return {}
    names = name_index.customers(db).called(text)
    return {key: gettext("customer {name}", name=name) for key, name in names.items()}
