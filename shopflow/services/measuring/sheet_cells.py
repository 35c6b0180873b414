"""Cells and tables of a head's sheet of measurements, as pages and papers show them."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property

from shopflow.models import (
    EngineLimit,
    HeadPlace,
    HeadPlan,
    Measurement,
    MeasurementKind,
    Operation,
    Verdict,
    Visit,
    When,
)
from shopflow.models.measurement import limits_in_words
from shopflow.services.measuring import calculated, limits
from shopflow.texts import gettext, lazy, translated
from shopflow.units import CONDITION, CONDITIONS, Quantity, from_si

Key = tuple[int | None, str, int | None]

TITLES = {
    "valves": lazy("Valves"),
    "ports": lazy("Ports"),
    "cylinders": lazy("Cylinders"),
    "head": lazy("Head"),
}
"""Titles of the tables of a sheet."""


@dataclass(frozen=True)
class Cell:
    """One kind of measurement at one place, before or after the work."""

    kind: MeasurementKind
    place: HeadPlace
    when: When
    row: Measurement | None
    last: Quantity | None
    """Value on the head's visit before, or of another step of this one."""

    limit: EngineLimit | None
    usual: Quantity | None
    """Usual value on this engine type."""

    unit: str
    decimals: int
    doubt: str = ""
    """Sentence: its value is far from the others of its kind; empty where it is not."""

    @property
    def name(self) -> str:
        """Name of its field, as "cell-12-3-exhaust-1-after"."""
        cylinder, side, valve = self.place.key
        return f"cell-{self.kind.id}-{cylinder or ''}-{side}-{valve or ''}-{self.when.value}"

    @property
    def text(self) -> str:
        """The value as its field holds it: a bare number in the column's unit."""
        return in_unit(self.row.value, self.unit) if self.row else ""

    @property
    def label(self) -> str:
        """The cell in words, for whoever cannot see the table."""
        cell = {"kind": self.kind.name, "place": self.place.label}
        if self.when is When.BEFORE:
            return gettext("{kind}, {place}, before the work", **cell)
        return gettext("{kind}, {place}, after the work", **cell)

    @property
    def is_calculated(self) -> bool:
        """True where it follows from others and is never typed."""
        return self.kind.code in calculated.BY_CODE

    @property
    def choices(self) -> dict[str, str]:
        """Conditions to choose from, in the reader's words; none where a number is typed."""
        if self.kind.dimension != CONDITION:
            return {}
        return {word: translated(word) for word in CONDITIONS}

    @property
    def limits(self) -> str:
        """Its limits in the column's unit, as "1.790 to 1.810"; empty where there are none."""
        if self.row is not None and (self.row.lower or self.row.upper):
            return _limits(self.row.lower, self.row.upper, self.unit, self.decimals)
        return _limits(*limits.bounds(self.kind, self.limit), self.unit, self.decimals)

    @property
    def usual_text(self) -> str:
        """The usual value in the column's unit; empty where there is none."""
        return in_unit(self.usual, self.unit) if self.usual else ""

    @property
    def last_text(self) -> str:
        """The last visit's value in the column's unit; empty where there was none."""
        return in_unit(self.last, self.unit) if self.last else ""

    @property
    def state(self) -> str:
        """State of the cell: "missing", "doubtful", "in", "out" or "no limit"."""
        if self.row is None:
            return "missing"
        if self.doubt:
            return "doubtful"
        return STATES[self.row.verdict]

    @property
    def verdict(self) -> str:
        """Its verdict in words; empty where nothing is held against it."""
        if self.doubt:
            return gettext("check")
        if self.row is None or self.row.verdict is Verdict.NO_LIMIT:
            return ""
        return translated(self.row.verdict)


STATES = {Verdict.WITHIN: "in", Verdict.OUTSIDE: "out", Verdict.NO_LIMIT: "no limit"}


@dataclass(frozen=True)
class Table:
    """The part of a sheet whose rows are one kind of place."""

    code: str
    """Rows of it: a key of ROWS."""

    kinds: tuple[MeasurementKind, ...]
    rows: tuple[tuple[HeadPlace, tuple[Cell, ...]], ...]
    whens: tuple[When, ...]

    @property
    def title(self) -> str:
        """Its title."""
        return str(TITLES[self.code])


@dataclass(frozen=True)
class Sheet:
    """A head's places with what was measured there, and what is on record of no certain place."""

    visit: Visit
    step: Operation | None
    plan: HeadPlan
    tables: tuple[Table, ...]
    unplaced: tuple[Measurement, ...]

    @cached_property
    def cells(self) -> dict[str, Cell]:
        """Every cell by its name."""
        return {
            cell.name: cell for table in self.tables for _, cells in table.rows for cell in cells
        }


def in_unit(value: Quantity, unit: str) -> str:
    """A value as typed: bare where it is in this unit, else with its own."""
    return value.number if value.unit == unit else value.text


def _limits(lower: Quantity | None, upper: Quantity | None, unit: str, decimals: int) -> str:
    """Limits as bare numbers: as typed where they are in the unit, else to its decimals."""
    if not unit:
        return limits_in_words(lower, upper)
    low, high = (number_in(bound, unit, decimals) for bound in (lower, upper))
    if low and high:
        return gettext("{low} to {high}", low=low, high=high)
    if low:
        return gettext("from {low}", low=low)
    return gettext("to {high}", high=high) if high else ""


def number_in(bound: Quantity | None, unit: str, decimals: int) -> str:
    """A bare number in a unit: as typed where it is in it, else to the decimals; empty for none."""
    if bound is None:
        return ""
    return bound.number if bound.unit == unit else f"{from_si(bound.si, unit):.{decimals}f}"
