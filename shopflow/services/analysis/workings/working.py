"""One figure with its working, and how numbers are written in it."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass


@dataclass(frozen=True)
class Working:
    """One figure, worked out in SI and shown in the reader's units."""

    key: str
    name: str
    formula: str
    numbers: str
    """The formula with the numbers put in, SI, and what it comes to."""

    value: str
    source: str


def si(value: float) -> str:
    """A number with six figures, as one would write it."""
    return f"{value:.6g}".replace("-", "−")


def curve_in_numbers(lifts: Iterable[float], flows: Iterable[float]) -> str:
    """A curve's points, lifts given in m: "0.0112 at 2.54 mm, ..."."""
    points = zip(lifts, flows, strict=True)
    return ", ".join(f"{si(flow)} at {si(1e3 * lift)} mm" for lift, flow in points)
