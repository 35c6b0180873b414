"""Plan of an import: a line for every row, every error, and the writes once it is confirmed."""

from __future__ import annotations

import hashlib
import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, field
from typing import Any

from sqlalchemy import func, null, select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError, ValidationError
from shopflow.models import (
    BenchSession,
    Contact,
    Customer,
    EngineAlias,
    EngineType,
    Head,
    HeadOwner,
    IntegrityTest,
    Job,
    Measurement,
    MeasurementKind,
    SeatProfile,
    Spring,
    Visit,
)
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.imports.reading import CellFault, Record, Sheet
from shopflow.texts import gettext, lazy, ngettext

CHANGED = lazy("the shop's records have changed since you chose the file: check the preview again")

BRINGING_IN = 7_360_147
"""PostgreSQL's advisory lock of an import; beside that of `database.MIGRATING`."""

Carry = Callable[[Session, Actor], None]
Basis = tuple[tuple[int | None, ...], ...]

_RESTS_ON: dict[Any, Any] = {
    Customer: func.sum(Customer.version),
    Contact: null(),
    EngineType: func.sum(EngineType.version),
    EngineAlias: null(),
    Head: func.sum(Head.version),
    HeadOwner: func.count(HeadOwner.until),
    Job: func.sum(Job.version),
    Visit: null(),
    BenchSession: null(),
    Measurement: func.sum(Measurement.version),
    MeasurementKind: func.sum(MeasurementKind.version),
    SeatProfile: func.sum(SeatProfile.version),
    Spring: func.sum(Spring.version),
    IntegrityTest: func.sum(IntegrityTest.version),
}
"""The records that plans are made by, and what tells that one of a kind was changed."""


@dataclass(frozen=True, slots=True)
class Action:
    """Effect of one row: `kind` groups it with others in a count, `words` describe it in full."""

    row: int
    kind: str
    words: str


@dataclass
class Plan:
    """Effect of a file once confirmed; none where it has errors."""

    actions: list[Action] = field(default_factory=list)
    faults: list[CellFault] = field(default_factory=list)
    write: Carry = lambda db, by: None
    basis: Basis = ()
    """State of the records when it was made."""

    def carry_out(self, db: Session, by: Actor) -> None:
        """Write it all; flushes, never commits.

        Raises RuleError where what is on record is not what it was when this was planned.
        """
        _one_at_a_time(db)
        if basis(db) != self.basis:
            raise RuleError(str(CHANGED))
        self.write(db, by)

    @property
    def counts(self) -> Counter[str]:
        """Number of rows of each kind."""
        return Counter(action.kind for action in self.actions)

    @property
    def counted(self) -> str:
        """Number of rows of each kind, in words."""
        return "; ".join(
            ngettext("{num:,} row, {kind}", "{num:,} rows, {kind}", number, kind=kind)
            for kind, number in self.counts.items()
        )

    @property
    def changes_nothing(self) -> bool:
        """True where everything in the file is on record already."""
        return all(action.kind == already_there() for action in self.actions)

    @property
    def mark(self) -> str:
        """Digest that identifies the plan: a confirmed plan must be the one that was shown."""
        lines = "\n".join(f"{action.row} {action.words}" for action in self.actions)
        return hashlib.sha256(lines.encode()).hexdigest()


def already_there() -> str:
    """The kind of an action that changes nothing."""
    return gettext("already there")


def basis(db: Session) -> Basis:
    """State of the records that a plan depends on, which differs after any change."""
    queries = (
        select(func.count(kind.id), func.max(kind.id), changed)
        for kind, changed in _RESTS_ON.items()
    )
    return tuple(tuple(db.execute(query).one()) for query in queries)


def _one_at_a_time(db: Session) -> None:
    """Let two imports run one after the other, so that the later sees the earlier's.

    SQLite has one writer at a time in any case.
    """
    if db.get_bind().dialect.name == "postgresql":
        db.execute(select(func.pg_advisory_xact_lock(BRINGING_IN)))


def with_the_rest(action: Action, rows: Iterable[Record]) -> Iterator[Action]:
    """The effect of a record that several rows make up, at its first; the others say where."""
    yield action
    words = gettext("belongs to row {row}", row=action.row)
    yield from (Action(row.row, action.kind, words) for row in rows if row.row != action.row)


def sorted_faults(sheet: Sheet) -> list[CellFault]:
    """A sheet's faults from the top down, for each cell what was found first."""
    first: dict[tuple[int, str], CellFault] = {}
    for fault in sheet.faults:
        first.setdefault((fault.row, fault.column), fault)
    return sorted(first.values())


@contextmanager
def faults_at(sheet: Sheet, record: Record, columns: Mapping[str, str]) -> Iterator[None]:
    """Put what a verb refuses at the row and the column its field comes from."""
    try:
        yield
    except ValidationError as error:
        for fault in error.faults:
            sheet.fault(record.row, columns.get(fault.key, fault.key), fault.message)


@contextmanager
def faults_at_rows(
    sheet: Sheet,
    first: Record,
    rows: Sequence[Record],
    columns: Mapping[str, str],
    columns_of_rows: Mapping[str, str],
) -> Iterator[None]:
    """As `faults_at`, of a record that several rows make up.

    A fault keyed as "cuts-2-width" is at the third of them, one of the whole at the first.
    """
    try:
        yield
    except ValidationError as error:
        for fault in error.faults:
            match = re.fullmatch(r"[a-z]+-([0-9]+)-(\w+)", fault.key)
            row = rows[int(match[1])] if match else first
            column = columns_of_rows.get(match[2], match[2]) if match else columns.get(fault.key)
            sheet.fault(row.row, column or fault.key, fault.message)


def checked(
    sheet: Sheet,
    record: Record,
    specification: fields.Specification,
    columns: Mapping[str, str],
    values: Mapping[str, Any] | None = None,
) -> dict[str, Any]:
    """The filled fields of a row, read by a noun's own specification; errors go to the sheet.

    `columns` maps the noun's field to its column; `values` replaces fields that are not plain text.
    """
    typed = {name: record.get(column) for name, column in columns.items() if record.get(column)}
    with faults_at(sheet, record, columns):
        return fields.read(specification, {**typed, **(values or {})})
    return {}


def listed(words: Iterable[str]) -> str:
    """Words as one reads them: "a, b and c"."""
    *first, last = words
    return gettext("{items} and {last}", items=", ".join(first), last=last) if first else last
