"""What a typed text may mean: an engine, a number, a customer, or words of a note."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cached_property
from typing import Any

from sqlalchemy import ColumnElement, Row, false, or_
from sqlalchemy.orm import Session

from shopflow.models import JobHead, LookupText
from shopflow.services import calling, engines
from shopflow.services.customers import contains
from shopflow.services.likeness import bare, bare_column, plain

FEWEST_LETTERS = 3
"""Letters below which a text is a part of nearly everything."""


@dataclass(frozen=True)
class Meaning:
    """What a text may mean: engine types and customers by key, each with the reason."""

    text: str
    engine_types: Mapping[int, str]
    customers: Mapping[int, str]

    @property
    def clause(self) -> ColumnElement[bool]:
        """What the database is asked of a stay's LookupText."""
        return or_(
            LookupText.engine_type_id.in_(self.engine_types) if self.engine_types else false(),
            LookupText.customer_id.in_(self.customers) if self.customers else false(),
            *_written(self.text),
        )

    def why(self, row: Row[*tuple[Any, ...]]) -> str:
        """Why a row of a stay goes with the text but for its notes; empty where it does not."""
        by_key = (
            self.engine_types.get(row.engine_type_id),
            self.customers.get(row.customer_id),
        )
        return "; ".join([*self._numbers(row), *(reason for reason in by_key if reason)])

    def note_of(self, stay: JobHead) -> str:
        """The first note of a stay that holds the text, with the words around it."""
        return next(
            f"{name}: “{_around(self.text, note)}”"
            for name, note in _notes_of(stay)
            if self._plain in plain(note)
        )

    def _numbers(self, row: Row[*tuple[Any, ...]]) -> Iterator[str]:
        wanted = self._bare
        if len(wanted) < FEWEST_LETTERS:
            return
        if wanted in bare(row.casting_number):
            yield f"casting number {row.casting_number}"
        if wanted in bare(row.serial):
            yield f"serial {row.serial}"
        if wanted in bare(row.tag):
            yield f"number {row.tag}"
        if wanted in bare(row.earlier_number or ""):
            yield f"earlier number {row.earlier_number}"

    @cached_property
    def _plain(self) -> str:
        return plain(self.text)

    @cached_property
    def _bare(self) -> str:
        return bare(self.text)


def _notes_of(stay: JobHead) -> Iterator[tuple[str, str]]:
    """Every note of a head's stay, those that cost no further query first."""
    yield "asked for", stay.job.asked_for
    yield "job notes", stay.job.notes
    yield "condition", stay.condition
    yield "came back because", stay.came_back_because
    yield "head notes", stay.head.notes
    yield from (("operation notes", step.notes) for step in stay.operations)
    yield from (("test notes", session.notes) for session in stay.sessions)


def read(db: Session, text: str) -> Meaning:
    """What a text may mean, slips forgiven."""
    return Meaning(
        text=text,
        engine_types={match.key: match.why for match in engines.matches(db, text)},
        customers=customers_called(db, text),
    )


def numbers_like(text: str, *columns: Any) -> list[ColumnElement[bool]]:
    """Clauses for numbers that hold the text, spaces, hyphens and the like left out of account."""
    wanted = bare(text)
    if len(wanted) < FEWEST_LETTERS:
        return []
    return [bare_column(column).like(contains(wanted), escape="\\") for column in columns]


def _written(text: str) -> list[ColumnElement[bool]]:
    """Clauses for numbers or notes that hold the text."""
    number, words = bare(text), plain(text)
    clauses = ((LookupText.numbers, number, number), (LookupText.notes, words, text))
    return [
        column.like(contains(wanted), escape="\\")
        for column, wanted, said in clauses
        if len(said) >= FEWEST_LETTERS
    ]


def _around(text: str, note: str, most: int = 60) -> str:
    """A stretch of a note with the text in it."""
    line = " ".join(note.split())
    # Where folding changed the length, the place is near enough.
    place = plain(line).find(plain(text))
    start = line.rfind(" ", 0, max(0, place - most // 3)) + 1 if len(line) > most else 0
    piece = line[start : start + most].strip()
    return f"{'…' if start else ''}{piece}{'…' if start + most < len(line) else ''}"


def customers_called(db: Session, text: str) -> dict[int, str]:
    """Customers whose name, or one word of it, is what was typed, slips forgiven, by key."""
    if len(text.strip()) < FEWEST_LETTERS:
        return {}
    found = calling.customers(db).called(text)
    return {key: f"customer {name}" for key, name in found.items()}
