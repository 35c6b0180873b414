"""What can be but looks wrong: warnings that say what to look at, and change nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shopflow.calc.air import PRESSURE_RANGE, TEMPERATURE_RANGE
from shopflow.calc.reduction import Reduction

REPEAT_TOLERANCE = 0.03
"""Repeats of a steady bench lie within one or two percent; common practice, no source."""

SHAPE_TOLERANCE = 0.03
"""Of the peak flow: how far below the line between its neighbours a point may lie."""

DEEP_LIFT = 0.45
"""L/D past which a valve's opening is hardly ever the restriction; common practice, no source."""


@dataclass(frozen=True, slots=True)
class Warning:
    """One thing worth a second look; `place` is the index of the lift it concerns, if one."""

    text: str
    place: int | None = None


def warnings(reduction: Reduction) -> list[Warning]:
    """Everything about a session that is worth a second look, in plain words."""
    return [
        *_air(reduction),
        *_coefficients(reduction),
        *_repeats(reduction),
        *_shape(reduction),
        *_depth(reduction),
    ]


def _air(reduction: Reduction) -> Iterator[Warning]:
    test = reduction.test
    low, high = PRESSURE_RANGE
    if not low <= test.barometer <= high:
        yield Warning(
            f"the barometer, {test.barometer / 100:.0f} hPa, is outside the 600 to 1100 hPa that "
            "the air density formula (CIPM-2007) is meant for"
        )
    cold, warm = TEMPERATURE_RANGE
    # A thousandth of a degree forgives conversion from Fahrenheit.
    if not cold - 1e-3 <= test.temperature <= warm + 1e-3:
        yield Warning(
            f"the air temperature, {test.temperature - 273.15:.1f} °C, is outside the 15 to 27 °C "
            "that the air density formula (CIPM-2007) is meant for"
        )


def _coefficients(reduction: Reduction) -> Iterator[Warning]:
    if reduction.cd_least_area is None:
        return
    for place in np.flatnonzero(reduction.cd_least_area > 1.0):
        yield Warning(
            f"the coefficient on the least area is {reduction.cd_least_area[place]:.3f}, and no "
            "opening passes more than the ideal; check the zero of the lift, the leakage and the "
            "seat's sizes",
            int(place),
        )


def _repeats(reduction: Reduction) -> Iterator[Warning]:
    for place, runs in enumerate(reduction.test.runs):
        middle = float(np.median(runs))
        farthest = max(runs, key=lambda run: abs(run - middle))
        # Two runs straddle their middle, so their distance from it is half of what they differ.
        allowed = REPEAT_TOLERANCE / 2 if len(runs) == 2 else REPEAT_TOLERANCE
        if middle > 0 and abs(farthest - middle) > allowed * middle:
            yield Warning(
                f"the repeats differ by more than {REPEAT_TOLERANCE:.0%}; read it again, or leave "
                "the wrong one out with the reason",
                place,
            )


def _shape(reduction: Reduction) -> Iterator[Warning]:
    """Points out of line with the curve.

    Flow over lift bends downwards, so that a point lies on or above the line between its
    neighbours. One that lies below it is out of line, or has a neighbour that reads too high.
    """
    lifts, flow = reduction.lifts, reduction.flow
    if len(lifts) < 4:
        return
    share = (lifts[1:-1] - lifts[:-2]) / (lifts[2:] - lifts[:-2])
    chord = flow[:-2] + share * (flow[2:] - flow[:-2])
    above = np.concatenate(([0.0], (flow[1:-1] - chord) / flow.max(), [0.0]))
    suspects = set()
    for place in np.flatnonzero(above < -SHAPE_TOLERANCE).tolist():
        beside = max((place - 1, place + 1), key=lambda near: above[near])
        blamed = beside if above[beside] > 1.5 * -above[place] else place
        suspects.add(blamed)
    for place in sorted(suspects):
        yield Warning(
            "the flow is out of line with the curve on either side; check the reading and the lift",
            place,
        )


def _depth(reduction: Reduction) -> Iterator[Warning]:
    deepest = float(reduction.lifts[-1] / reduction.test.valve.head_diameter)
    if deepest > DEEP_LIFT:
        yield Warning(
            f"the last lift is {deepest:.2f} of the valve's diameter; past {DEEP_LIFT} the "
            "coefficients say little of the valve"
        )
