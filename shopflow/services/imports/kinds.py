"""The kinds of file that can be imported."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, replace

from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.services.imports import (
    customers,
    engines,
    flows,
    heads,
    integrity,
    measured,
    results,
    seats,
    springs,
)
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan, basis
from shopflow.services.imports.reading import OF_A_PAGE, Bounds, Column, Sheet, Writing, read
from shopflow.texts import gettext, lazy


@dataclass(frozen=True, slots=True)
class Kind:
    """A kind of file: its columns, an example, and what it would do."""

    code: str
    title: str
    row: str
    columns: Sequence[Column]
    examples: Sequence[Mapping[str, str]]
    plan: Callable[[Session, Sheet, Air], Plan]
    lift_hint: str = ""
    has_dates: bool = False
    """True where its rows have dates, as those with lifts do."""

    @property
    def headings(self) -> list[str]:
        """Headings of its template: every column, and those its examples add."""
        names = [column.name for column in self.columns]
        return names + [name for name in self.examples[0] if name not in names]


KINDS = {
    kind.code: kind
    for kind in (
        Kind(
            "customers",
            lazy("Customers"),
            lazy("customer, or further contact"),
            customers.COLUMNS,
            customers.EXAMPLES,
            lambda db, sheet, air: customers.plan(db, sheet),
        ),
        Kind(
            "engine-types",
            lazy("Engine types"),
            lazy("engine type"),
            engines.COLUMNS,
            engines.EXAMPLES,
            lambda db, sheet, air: engines.plan(db, sheet),
        ),
        Kind(
            "heads",
            lazy("Heads"),
            lazy("head"),
            heads.COLUMNS,
            heads.EXAMPLES,
            lambda db, sheet, air: heads.plan(db, sheet),
        ),
        Kind(
            "results",
            lazy("Past results"),
            lazy("flow test on a past job"),
            results.COLUMNS,
            results.EXAMPLES,
            results.plan,
            flows.LIFT_HINT,
        ),
        Kind(
            "measurements",
            lazy("Measurements"),
            lazy("value measured on a head of a job"),
            measured.COLUMNS,
            measured.EXAMPLES,
            lambda db, sheet, air: measured.plan(db, sheet),
            has_dates=True,
        ),
        Kind(
            "tests",
            lazy("Leak and crack tests"),
            lazy("pressure, vacuum, leak or crack test of one place"),
            integrity.COLUMNS,
            integrity.EXAMPLES,
            lambda db, sheet, air: integrity.plan(db, sheet),
            has_dates=True,
        ),
        Kind(
            "seats",
            lazy("Seats"),
            lazy("cut of a seat"),
            seats.COLUMNS,
            seats.EXAMPLES,
            lambda db, sheet, air: seats.plan(db, sheet),
        ),
        Kind(
            "springs",
            lazy("Springs"),
            lazy("load of a spring at a height"),
            springs.COLUMNS,
            springs.EXAMPLES,
            lambda db, sheet, air: springs.plan(db, sheet),
        ),
    )
}


def get(code: str) -> Kind:
    """The kind of this code. Raises NotFoundError."""
    if code not in KINDS:
        raise NotFoundError(gettext("this kind of import does not exist"))
    return KINDS[code]


def plan(
    db: Session,
    kind: Kind,
    content: bytes,
    writing: Writing,
    air: Air,
    bounds: Bounds = OF_A_PAGE,
) -> Plan:
    """Plan the import of a file, row by row, with every error in it."""
    # Before all else is read: what changes meanwhile is then found changed.
    rests_on = basis(db)
    planned = kind.plan(db, read(content, kind.columns, writing, bounds), air)
    return replace(planned, basis=rests_on)
