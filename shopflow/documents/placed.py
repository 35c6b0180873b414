"""Measurements by place: one kind in a table, cylinders across, valves or ports down."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PlaceCell:
    """One place: its value as a bare number in the table's unit, and what is known of it."""

    value: str = ""
    """Empty where it is not measured."""

    last: str = ""
    """Last known value: of another step, or of the head's visit before."""

    is_outside: bool = False


@dataclass(frozen=True)
class PlaceRow:
    """The places of one side or one valve of each cylinder."""

    label: str
    limits: str
    cells: tuple[PlaceCell | None, ...]
    """None where the head has no such place."""


@dataclass(frozen=True)
class ValveRow:
    """A valve of a head, or the limits of a side, under the columns of its table."""

    label: str
    cells: tuple[PlaceCell | None, ...]
    """None where the column says nothing of it."""


@dataclass(frozen=True)
class ValveTable:
    """A head valve by valve: each kind of measurement in a column, chambers among them."""

    columns: tuple[tuple[str, str], ...]
    """Kind and unit."""

    rows: tuple[ValveRow, ...]
    limits: tuple[ValveRow, ...] = ()

    @property
    def outside(self) -> int:
        """Values outside their limits."""
        return sum(cell.is_outside for row in self.rows for cell in row.cells if cell)


@dataclass(frozen=True)
class SectionTable:
    """Sections of a port at one time, each at its distance."""

    title: str
    """Port and time, as "Intake, cylinder 2, by valve seat, before the work"."""

    distance: str
    """Unit of the distances, which label the rows."""

    table: ValveTable


@dataclass(frozen=True)
class PlaceTable:
    """One kind of measurement at every place of a head."""

    kind: str
    unit: str
    """Empty where the values are words."""

    columns: tuple[str, ...]
    """Cylinders, as "1" or "2, 3" where they share a port; one empty for the head as a whole."""

    rows: tuple[PlaceRow, ...]

    @property
    def outside(self) -> int:
        """Places that are outside their limits."""
        return sum(cell.is_outside for row in self.rows for cell in row.cells if cell)

    @property
    def measured(self) -> int:
        """Places that are measured."""
        return sum(bool(cell.value) for row in self.rows for cell in row.cells if cell)
