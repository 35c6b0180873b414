"""One result with its working, and how numbers are written in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from shopflow.texts import gettext


@dataclass(frozen=True)
class Working:
    """One result, calculated in SI and shown in the reader's units."""

    key: str
    name: str
    formula: str
    numbers: str
    """The formula with the numbers put in, SI, and the result of it."""

    value: str
    source: str


def si(value: float) -> str:
    """A number with six figures, as one would write it.

    >>> si(-0.00012345678), si(101325.0)
    ('−0.000123457', '101325')
    """
    return f"{value:.6g}".replace("-", "−")


def curve_in_numbers(lifts: Iterable[float], values: Iterable[float]) -> str:
    """A curve's points, lifts given in m.

    >>> curve_in_numbers([2.54e-3], [0.0112])
    '0.0112 at 2.54 mm'
    """
    points = zip(lifts, values, strict=True)
    return ", ".join(
        gettext("{si} at {lift} mm", si=si(value), lift=si(1000.0 * lift)) for lift, value in points
    )
