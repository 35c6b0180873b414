"""Inputs of a side's springs on one head, each from the most particular record that has it."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import cached_property

from sqlalchemy.orm import Session

from shopflow.calc.spring_loads import SpringLoads
from shopflow.calc.springs import load_at_lift
from shopflow.models import (
    EngineLimit,
    HeadPlace,
    Measurement,
    PlaceKind,
    Spring,
    ValveSetUp,
    Visit,
    When,
)
from shopflow.services.measuring import limits, usual_values
from shopflow.services.springs import lifts, pressure, records, seat_loads
from shopflow.services.springs.lifts import Lift
from shopflow.services.springs.pressure import Pressure
from shopflow.texts import gettext
from shopflow.units import Quantity, UnitSystem

HEIGHT = "installed height"
SHIM = "shim"
BEFORE_TOO = frozenset({HEIGHT, "retainer to guide"})
"""Kinds that a measurement from before the work stands in for, while there is none from after."""

KINDS = frozenset(
    {HEIGHT, SHIM, "seat load", "open load", "squareness", "coil bind height", "retainer to guide"}
)

Rows = Mapping[str, Measurement]
"""Last measurement of a kind by the valve in words."""


@dataclass(frozen=True)
class Inputs:
    """Records about the springs of one side of a head."""

    visit: Visit
    side: str
    own: Spring | None
    usual: Spring | None
    lift: Lift | None
    limits: Mapping[str, EngineLimit]
    """By the kind's code, those of this side."""

    usual_heights: Mapping[int, Quantity]
    """Usual installed height by valve number; 0 for all of them."""

    @property
    def spring(self) -> Spring | None:
        """The head's own springs, else the usual ones of its engine type.

        Neither where the hand-off note alone tells of the springs: they may be others.
        """
        return self.own or (None if self._is_noted else self.usual)

    @property
    def _is_noted(self) -> bool:
        note = self.note
        return note is not None and bool(note.spring_rate or note.installed_load)

    @cached_property
    def note(self) -> ValveSetUp | None:
        """The side's set-up on the hand-off note."""
        valves = self.visit.hand_off.valves if self.visit.hand_off else []
        return next((row for row in valves if row.side == self.side), None)

    @cached_property
    def loads(self) -> SpringLoads | None:
        """Loads by height as on record; none while there are fewer than two points."""
        points = self.spring.points if self.spring else []
        if len(points) < 2:
            return None
        return SpringLoads(
            [point.height.si for point in points], [point.load.si for point in points]
        )

    def noted_load(self, height: float) -> float | None:
        """Load at a height by the hand-off note's load, height and rate, N."""
        note = self.note
        if self.own is not None or note is None or self.noted_rate is None:
            return None
        if note.installed_load is None or note.installed_height is None:
            return None
        shut = note.installed_load.si
        return float(load_at_lift(shut, self.noted_rate, note.installed_height.si - height))

    @property
    def noted_rate(self) -> float | None:
        """Spring rate of the hand-off note, N/m."""
        return self.note.spring_rate.si if self.note and self.note.spring_rate else None

    @property
    def coil_bind(self) -> Quantity | None:
        """Coil bind height of the side's springs, by their record or the note."""
        usual = None if self._is_noted else self.usual
        for row in (self.own, self.note, usual):
            if row is not None and row.coil_bind_height is not None:
                return row.coil_bind_height
        return None

    @cached_property
    def pressure(self) -> Pressure:
        """Boost or back pressure on the side's valves."""
        return pressure.of_side(self.visit, self.side, self.note)

    @property
    def load_to_set(self) -> float | None:
        """Seat load the hand-off note asks for, N."""
        return seat_loads.load_to_set(self.note) if self.note else None

    def wanted(self, valve: int | None) -> Quantity | None:
        """Height to shim to: of the head's springs or note, else usual at the valve."""
        if self.own is not None and self.own.wanted_height is not None:
            return self.own.wanted_height
        if self.note is not None and self.note.installed_height is not None:
            return self.note.installed_height
        usual = self.usual_heights.get(valve or 0) or self.usual_heights.get(0)
        return usual or (self.usual.wanted_height if self.usual else None)

    @cached_property
    def valves(self) -> dict[str, HeadPlace | None]:
        """The valves of the side in words; measured spots that name no valve follow with none."""
        plan = self.visit.head.plan
        places = plan.places(PlaceKind.VALVE) if plan else []
        named: dict[str, HeadPlace | None] = {
            place.label: place for place in places if place.side == self.side
        }
        unnamed = sorted(
            (row for row in self._rows if self._label(row) not in named),
            key=lambda row: (row.cylinder or 0, row.valve or 0, row.place),
        )
        return named | dict.fromkeys(map(self._label, unnamed))

    def measured(self, code: str) -> Rows:
        """The last measurement of a kind at each valve, one after the work before one before it."""
        rows = [
            row
            for row in self._rows
            if row.kind.code == code and (row.when is When.AFTER or code in BEFORE_TOO)
        ]
        ordered = sorted(rows, key=lambda row: (row.when is When.AFTER, row.at, row.id))
        return {self._label(row): row for row in ordered}

    @cached_property
    def _rows(self) -> list[Measurement]:
        return [
            row
            for row in self.visit.measurements
            if row.kind.code in KINDS and row.side in (self.side, "")
        ]

    def _label(self, row: Measurement) -> str:
        plan = self.visit.head.plan
        place = row.place_in(plan) if plan and not row.place else None
        if plan is None or place is None:
            where = row.where or gettext("place not recorded")
            # A valve of its own it is not: of which one it was taken is not known.
            is_unnamed = plan is not None and not row.place and row.valve is None
            return gettext("{where}, valve not named", where=where) if is_unnamed else where
        valve = plan.place_at(PlaceKind.VALVE, place.key)
        return valve.label if valve else place.label


def of_side(db: Session, visit: Visit, side: str, units: UnitSystem) -> Inputs:
    """Inputs of a side's springs. Raises NotFoundError for a side that no head has."""
    engine_type = visit.head.engine_type
    own, usual = records.of_owner(db, visit, side), records.usual(db, visit, side)
    of_type = sorted(limits.of_engine_type(db, engine_type), key=lambda row: row.side)
    usual_heights = {
        row.valve: row.value
        for row in reversed(usual_values.of_engine_type(db, engine_type))
        if row.kind.code == HEIGHT and row.side in ("", side)
    }
    return Inputs(
        visit=visit,
        side=side,
        own=own,
        usual=usual,
        lift=lifts.of_side(db, visit, side, own, usual, units),
        limits={row.kind.code: row for row in of_type if row.side in ("", side)},
        usual_heights=usual_heights,
    )
