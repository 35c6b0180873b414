"""Installed heights and seat loads as measured on each valve, and the room to coil bind there."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from shopflow.calc.springs import coil_bind_room
from shopflow.models import Measurement, ValveSetUp, When
from shopflow.texts import gettext
from shopflow.units import Quantity


@dataclass(frozen=True)
class ValveHeight:
    """One valve's spring as measured."""

    where: str
    height: Quantity | None
    load: Quantity | None
    room: float | None
    """To coil bind at full lift, m; none where an input is missing."""


def each_valve(valve: ValveSetUp) -> list[ValveHeight]:
    """Every valve of a side on which a height or a load was measured after the work."""
    heights, loads = (_measured(valve, code) for code in ("installed height", "seat load"))
    locations = list(dict.fromkeys([*heights, *loads]))
    return [
        ValveHeight(
            location, heights.get(location), loads.get(location), room(valve, heights.get(location))
        )
        for location in locations
    ]


def room(valve: ValveSetUp, height: Quantity | None) -> float | None:
    """Distance to coil bind at full lift from an installed height, m."""
    bind, lift = valve.coil_bind_height, valve.valve_lift
    if height is None or bind is None or lift is None:
        return None
    return float(coil_bind_room(height.si, bind.si, lift.si))


def lowest(valves: Sequence[ValveHeight]) -> ValveHeight | None:
    """The valve whose spring stands lowest, so that it has the least room."""
    measured = [item for item in valves if item.height is not None]
    return min(measured, key=lambda item: item.height.si if item.height else 0.0, default=None)


def weakest(valves: Sequence[ValveHeight]) -> ValveHeight | None:
    """The valve with the least load on its seat."""
    measured = [item for item in valves if item.load is not None]
    return min(measured, key=lambda item: item.load.si if item.load else 0.0, default=None)


def _measured(valve: ValveSetUp, code: str) -> dict[str, Quantity]:
    """The last value of a kind at each place of the side, by the place in words."""
    rows: list[Measurement] = sorted(
        (
            row
            for row in valve.note.job_head.measurements
            if row.kind.code == code and row.side in (valve.side, "") and row.when is When.AFTER
        ),
        key=lambda row: (row.cylinder or 0, row.valve or 0, row.place, row.at, row.id),
    )
    return {row.where or gettext("place not recorded"): row.value for row in rows}
