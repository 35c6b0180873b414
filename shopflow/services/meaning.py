"""What a typed text may mean: an engine, a number, a customer, or words of a note."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, false, or_, select
from sqlalchemy.orm import Session

from shopflow.models import BenchSession, Customer, Head, Job, JobHead, Operation
from shopflow.services import engines
from shopflow.services.customers import contains
from shopflow.services.likeness import GOOD_MATCH, bare, bare_column, likeness, plain

FEWEST_LETTERS = 3
"""Letters below which a text is a part of nearly everything."""

_ANY_LETTER = "aeioucn"
"""Letters that are often written with an accent: any one letter passes in their place."""


@dataclass(frozen=True)
class Meaning:
    """What a text may mean: engine types and customers by key, each with the reason."""

    text: str
    engine_types: Mapping[int, str]
    customers: Mapping[int, str]

    @property
    def clause(self) -> ColumnElement[bool]:
        """What the database is asked; notes it answers a little too freely, see `why`."""
        return or_(
            Head.engine_type_id.in_(self.engine_types) if self.engine_types else false(),
            Job.customer_id.in_(self.customers) if self.customers else false(),
            *numbers_like(self.text, Head.casting_number, Head.serial, Job.number, JobHead.tag),
            *_notes_like(self.text),
        )

    def why(self, stay: JobHead) -> str:
        """Why a head's stay goes with the text; empty where it does not."""
        by_key = (
            self.engine_types.get(stay.head.engine_type_id),
            self.customers.get(stay.job.customer_id),
        )
        reasons = [*self._numbers(stay), *(reason for reason in by_key if reason)]
        return "; ".join(reasons) or next(self._notes(stay), "")

    def _numbers(self, stay: JobHead) -> Iterator[str]:
        wanted = bare(self.text)
        if len(wanted) < FEWEST_LETTERS:
            return
        if wanted in bare(stay.head.casting_number):
            yield f"casting number {stay.head.casting_number}"
        if wanted in bare(stay.head.serial):
            yield f"serial {stay.head.serial}"
        if wanted in bare(stay.tag):
            yield f"number {stay.tag}"

    def _notes(self, stay: JobHead) -> Iterator[str]:
        """The notes that hold the text, each with the words around it."""
        for name, note in _notes_of(stay):
            if plain(self.text) in plain(note):
                yield f"{name}: “{_around(self.text, note)}”"


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
        engine_types={match.engine_type.id: match.why for match in engines.matches(db, text)},
        customers=customers_called(db, text),
    )


def numbers_like(text: str, *columns: Any) -> list[ColumnElement[bool]]:
    """Clauses for numbers that hold the text, spaces, hyphens and the like left out of account."""
    wanted = bare(text)
    if len(wanted) < FEWEST_LETTERS:
        return []
    return [bare_column(column).like(contains(wanted), escape="\\") for column in columns]


def _notes_like(text: str) -> list[ColumnElement[bool]]:
    """Clauses for notes that hold the text, alike on every database.

    SQLite folds only plain letters; a letter that may have an accent is left open, and `why`
    looks closely.
    """
    if len(text) < FEWEST_LETTERS:
        return []
    pattern = "".join(
        "_" if not letter.isascii() or letter in _ANY_LETTER else letter
        for letter in contains(text).lower()
    )
    single = (Job.asked_for, Job.notes, JobHead.condition, JobHead.came_back_because, Head.notes)
    return [
        *(column.ilike(pattern, escape="\\") for column in single),
        JobHead.operations.any(Operation.notes.ilike(pattern, escape="\\")),
        JobHead.sessions.any(BenchSession.notes.ilike(pattern, escape="\\")),
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
    names = db.execute(select(Customer.id, Customer.name))
    return {key: f"customer {name}" for key, name in names if _is_called(text, name)}


def _is_called(text: str, name: str) -> bool:
    """Whether a name, or one word of it, is what was typed."""
    if len(text.strip()) < FEWEST_LETTERS:
        return False
    if any(likeness(text, part) >= GOOD_MATCH for part in (name, *_long_words(name))):
        return True
    # A slip in the first words of a longer name.
    words = len(text.split())
    return words > 1 and likeness(text, " ".join(name.split()[:words])) >= GOOD_MATCH


def _long_words(name: str) -> list[str]:
    return [word for word in name.split() if len(word) >= 4]
