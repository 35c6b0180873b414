"""Curves over crank angle, to be drawn: valve lift, effective area, overlap and blow-down."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.cam import ValveMotion
from shopflow.calc.cycle import BOTTOM_DEAD_CENTRE, OpenPort, series_area

STEP = 2.0
"""Crank degrees between the points of a curve."""

Curve = tuple[tuple[float, float], ...]
"""Points: crank degrees, and the figure there in SI."""


def lift_curve(motion: ValveMotion) -> Curve:
    """Valve lift from opening to closing."""
    return _curve(motion.lift, motion.opens, motion.closes)


def area_curve(side: OpenPort) -> Curve:
    """Effective area of a tested port from opening to closing."""
    return _curve(side.area, side.motion.opens, side.motion.closes)


def overlap_curve(intake: OpenPort | None, exhaust: OpenPort | None) -> Curve:
    """Area of both ports in series while both are open; empty where it cannot be had."""
    if intake is None or exhaust is None or intake.port is None or exhaust.port is None:
        return ()
    lobe, other = intake, exhaust
    low = max(lobe.motion.opens, other.motion.opens)
    high = min(lobe.motion.closes, other.motion.closes)
    return _curve(lambda angles: series_area(lobe.area(angles), other.area(angles)), low, high)


def blowdown_curve(exhaust: OpenPort | None) -> Curve:
    """Area of the exhaust from opening to bottom dead centre; empty where it cannot be had."""
    if exhaust is None or exhaust.port is None:
        return ()
    end = min(BOTTOM_DEAD_CENTRE, exhaust.motion.closes)
    return _curve(exhaust.area, exhaust.motion.opens, end)


def _curve(figure: Callable[[Floats], Floats], low: float, high: float) -> Curve:
    """Both ends, and between them the multiples of the step."""
    if low >= high:
        return ()
    inside = np.arange(np.floor(low / STEP) + 1, np.ceil(high / STEP)) * STEP
    angles = np.concatenate(([low], inside, [high]))
    return tuple(zip(angles.tolist(), figure(angles).tolist(), strict=True))
