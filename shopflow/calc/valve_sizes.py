"""Sizes of a valve and its seat by the names that their uncertainties have."""

from __future__ import annotations

from dataclasses import replace

from shopflow.calc.areas import Valve

FIELDS = {
    "head_diameter": "head_diameter",
    "stem_diameter": "stem_diameter",
    "seat_angle": "angle",
    "seat_width": "width",
    "throat_diameter": "throat_diameter",
}
"""Sizes that the least geometric area is calculated from: the uncertainty of each, and its field of
the valve or seat."""


def size(valve: Valve, name: str) -> float:
    """A size of a valve with its seat, m or rad."""
    return float(getattr(valve if name == "head_diameter" else valve.seat, FIELDS[name]))


def with_size(valve: Valve, name: str, value: float) -> Valve:
    """The valve with another value of a size, m or rad."""
    if valve.seat is None or name == "head_diameter":
        return replace(valve, head_diameter=value)
    return replace(valve, seat=replace(valve.seat, **{FIELDS[name]: value}))
