"""Warnings about possible but unlikely values: they name what to check, and change nothing."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import numpy as np

from shopflow.calc.air import PRESSURE_RANGE, TEMPERATURE_RANGE
from shopflow.calc.array_types import Floats
from shopflow.calc.comparison import share_calibration
from shopflow.calc.flow import at_reference_pressure
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.calc.slips import (
    altitude_slips,
    barometer_cause,
    coefficient_slips,
    port_slips,
    pressure_slips,
    with_cause,
)
from shopflow.texts import gettext, translated

REPEAT_TOLERANCE = 0.03
"""Repeats of a steady bench lie within one or two percent; common practice, no source."""

SHAPE_TOLERANCE = 0.03
"""Of the peak flow, how far a reading may stray from the curve through its neighbours; common
practice, no source."""

PRESSURE_TOLERANCE = 0.10
"""Of the test pressure, how far a run may be off it: the root law then errs by a quarter of a
percent against isentropic flow; common practice, no source."""

DEEP_LIFT = 0.45
"""L/D past which a valve's opening is hardly ever the restriction; common practice, no source."""


LARGE_LEAKAGE = 0.10
"""Of the smallest reading; a leak this large is a fault to fix; common practice, no source."""

FALLING = 0.02
"""Of the flow before it: more than readings scatter; common practice, no source."""

STILL_OPENING = 0.25
"""L/D up to which the valve's curtain is smaller than its head, so that opening it further cannot
reduce the flow: the curtain is as large as the head at a quarter."""


BEYOND_IDEAL = 1.1
"""Coefficient on the least area known, past which a reading is a slip: no opening passes more than
the ideal, and zero of the lift, sizes and pressure together are seldom off by a tenth; common
practice, no source."""


@dataclass(frozen=True, slots=True)
class Doubt:
    """One thing worth a second look; `place` is the index of the lift it concerns, if one."""

    text: str
    place: int | None = None
    also: tuple[int, ...] = ()
    """Further lifts that the same is said of."""

    @property
    def places(self) -> tuple[int, ...]:
        """Every lift it concerns, in order; none where it is of the whole test."""
        return () if self.place is None else (self.place, *self.also)


def warnings(reduction: Reduction) -> list[Doubt]:
    """Everything about a session that is worth a second look, in plain words.

    A reading that cannot be is told once: the curve beside it is out of line because of it.
    """
    beside = {place + step for place in impossible(reduction) for step in (-1, 0, 1)}
    curve = [*_shape(reduction), *_falling(reduction)]
    return [
        *_air(reduction.test),
        *(Doubt(text) for text in pressure_slips(reduction.test)),
        *(Doubt(text) for text in altitude_slips(reduction.test)),
        *(Doubt(text) for text in reduction.test.meter_doubts),
        *_calibrated_span(reduction.test),
        *_run_pressures(reduction.test),
        *_leakage(reduction.test),
        *_coefficients(reduction),
        *(Doubt(text) for text in coefficient_slips(reduction)),
        *(Doubt(text) for text in port_slips(reduction)),
        *_repeats(reduction.test),
        *(doubt for doubt in curve if doubt.place not in beside),
        *_depth(reduction),
    ]


def impossible(reduction: Reduction) -> list[int]:
    """Places of the lifts whose readings are beyond what an ideal opening passes."""
    return [int(place) for place in np.flatnonzero(_coefficient(reduction) > BEYOND_IDEAL)]


def comparison_warnings(before: Reduction, after: Reduction) -> list[Doubt]:
    """Doubts about comparing two tests."""
    return [Doubt(text) for text in _unlike(before, after)]


def _air(test: FlowTest) -> Iterator[Doubt]:
    low, high = PRESSURE_RANGE
    if not low <= test.barometer <= high:
        yield Doubt(
            with_cause(
                gettext(
                    "the barometer, {pressure:.0f} hPa, is outside the 600 to 1100 hPa that the "
                    "air density formula (CIPM-2007) is meant for",
                    pressure=test.barometer / 100,
                ),
                barometer_cause(test),
            )
        )
    cold, warm = TEMPERATURE_RANGE
    # A thousandth of a degree forgives conversion from Fahrenheit.
    if not cold - 1e-3 <= test.temperature <= warm + 1e-3:
        yield Doubt(
            gettext(
                "the air temperature, {temperature:.1f} °C, is outside the 15 to 27 °C "
                "that the air density formula (CIPM-2007) is meant for",
                temperature=test.temperature - 273.15,
            )
        )


def _calibrated_span(test: FlowTest) -> Iterator[Doubt]:
    """A poor fit of the calibration's points, and lifts whose flow lies beyond them."""
    if test.fitted is None:
        return
    if test.fitted.doubts:
        yield Doubt(gettext("calibration: {doubts}", doubts=test.fitted.doubts))
    low, high = test.fitted.span
    for index, runs in enumerate(test.runs):
        # A millionth forgives conversion of units.
        if min(runs) < low * (1.0 - 1e-6) or max(runs) > high * (1.0 + 1e-6):
            text = (
                gettext(
                    "the reading lies below the lowest point of the bench's calibration; that "
                    "point's factor and uncertainty are taken for it, which nothing has checked"
                )
                if min(runs) < low
                else gettext(
                    "the reading lies above the highest point of the bench's calibration; that "
                    "point's factor and uncertainty are taken for it, which nothing has checked"
                )
            )
            yield Doubt(text, index)


def _run_pressures(test: FlowTest) -> Iterator[Doubt]:
    """Lifts where the pressure strayed so far that restating it by its root counts, as one."""
    off = {
        index: max(abs(pressure / test.test_pressure - 1.0) for pressure in pressures)
        for index, pressures in enumerate(test.run_pressures or ())
    }
    places = [index for index, share in off.items() if share > PRESSURE_TOLERANCE]
    if places:
        yield Doubt(
            gettext(
                "the pressure was {off:.0%} off the test pressure; flows are restated by "
                "the root of the pressures, which holds for small differences",
                off=off[places[0]],
            )
            if len(places) == 1
            else gettext(
                "the pressure was up to {off:.0%} off the test pressure; flows are restated by "
                "the root of the pressures, which holds for small differences",
                off=max(off.values()),
            ),
            places[0],
            tuple(places[1:]),
        )


def _leakage(test: FlowTest) -> Iterator[Doubt]:
    means = [sum(runs) / len(runs) for runs in test.restated_runs]
    smallest = min(means)
    measured_at = test.leakage_pressure or test.test_pressure
    leakage = at_reference_pressure(test.leakage, measured_at, test.test_pressure)
    if leakage > LARGE_LEAKAGE * smallest:
        yield Doubt(
            gettext(
                "the leakage is {smallest:.0%} of this reading; look for the leak, or "
                "measure it again",
                smallest=leakage / smallest,
            ),
            means.index(smallest),
        )


def _falling(reduction: Reduction) -> Iterator[Doubt]:
    """Lifts where less flows than before, though the valve is still opening."""
    flow, depth = reduction.flow, reduction.lifts / reduction.test.valve.head_diameter
    fallen = (flow[1:] < (1.0 - FALLING) * flow[:-1]) & (depth[1:] <= STILL_OPENING)
    for place in np.flatnonzero(fallen).tolist():
        yield Doubt(
            gettext(
                "less flows than at the lift before, though the valve is still opening; check the "
                "reading, the lift and the pressure"
            ),
            place + 1,
        )


def _coefficients(reduction: Reduction) -> Iterator[Doubt]:
    """Lifts where more flows than the ideal passes, on the smallest area that is known."""
    is_known = reduction.cd_least_area is not None
    coefficients = _coefficient(reduction)
    for place in np.flatnonzero(coefficients > 1.0).tolist():
        text = (
            gettext(
                "the coefficient on the least valve area is {coefficient:.3f}, and no opening "
                "passes more than the ideal; check the test pressure, the zero of the lift, the "
                "leakage and the sizes of valve and seat",
                coefficient=coefficients[place],
            )
            if is_known
            else gettext(
                "the coefficient on the curtain or head area is {coefficient:.3f}, and no opening "
                "passes more than the ideal; check the test pressure, the zero of the lift, the "
                "leakage and the sizes of valve and seat",
                coefficient=coefficients[place],
            )
        )
        yield Doubt(text, place)


def _coefficient(reduction: Reduction) -> Floats:
    """Coefficient on the smallest area that is known."""
    least = reduction.cd_least_area
    return reduction.opening_coefficient if least is None else least


def _repeats(test: FlowTest) -> Iterator[Doubt]:
    """Lifts where a run strays from the rest: two runs from each other, more from their median."""
    for index, runs in enumerate(test.restated_runs):
        ordered = sorted(runs)
        middle = ordered[len(runs) // 2]
        low, high = ordered[0], ordered[-1]
        if max(middle - low, high - middle) > REPEAT_TOLERANCE * middle:
            yield Doubt(
                gettext(
                    "the repeats differ by more than {repeat_tolerance:.0%}; read it again, "
                    "or leave the wrong one out with the reason",
                    repeat_tolerance=REPEAT_TOLERANCE,
                ),
                index,
            )


def _shape(reduction: Reduction) -> Iterator[Doubt]:
    for place in out_of_line(reduction.lifts, reduction.flow):
        yield Doubt(
            gettext(
                "the flow is out of line with the curve on either side; check this reading, its "
                "lift and the readings beside it"
            ),
            place,
        )


def out_of_line(lifts: Floats, flow: Floats) -> list[int]:
    """Places where a reading does not fit its neighbours.

    Parameters
    ----------
    lifts : strictly increasing and above 0, m
    flow : at those lifts

    Returns
    -------
    indices of the lifts in doubt; none where there are fewer than four

    Notes
    -----
    Flow over lift starts at nothing and bends downwards, gently or with a knee, so that a reading
    lies on or above the line between its neighbours. A reading that is too low lies below that
    line by more than 3 % of the peak flow. One that is too high stands that far above the cubic
    through two neighbours on each side (as a knee may), and pushes a neighbour below its own line
    by 1 % and a quarter as far (as no knee does). Where two neighbours are in doubt, the one
    farther from the curve is meant. The last reading has no line of its own. The rule and its
    3 % are common practice, no source.

    Examples
    --------
    145 read as 154 (digits swapped) is found, and the curve as it was is not doubted:

    >>> import numpy as np
    >>> lifts = np.arange(2.0, 13.0, 2.0)
    >>> out_of_line(lifts, np.array([52.0, 100.0, 145.0, 178.0, 196.0, 203.0]))
    []
    >>> out_of_line(lifts, np.array([52.0, 100.0, 154.0, 178.0, 196.0, 203.0]))
    [2]
    """
    if len(lifts) < 4:
        return []
    above = _above_chord(np.concatenate(([0.0], lifts)), np.concatenate(([0.0], flow)))
    above /= flow.max()
    left = np.concatenate(([0.0], above[:-1]))
    right = np.concatenate((above[1:], [0.0]))
    # A stray reading moves its neighbours' lines half as far the other way.
    stray = (above - (left + right) / 2.0) / 1.5
    pushed = np.minimum(left, right) < -np.maximum(SHAPE_TOLERANCE / 3.0, stray / 4.0)
    doubtful = (above < -SHAPE_TOLERANCE) | (pushed & (stray > SHAPE_TOLERANCE))
    size = np.concatenate(([0.0], np.where(doubtful, np.abs(stray), 0.0), [0.0]))
    largest = (size[1:-1] > size[:-2]) & (size[1:-1] >= size[2:])
    return [int(place) for place in np.flatnonzero(doubtful & largest)]


def _above_chord(lifts: Floats, flow: Floats) -> Floats:
    """Height of each inner point above the line between its neighbours."""
    share = (lifts[1:-1] - lifts[:-2]) / (lifts[2:] - lifts[:-2])
    return np.asarray(flow[1:-1] - flow[:-2] - share * (flow[2:] - flow[:-2]))


def _depth(reduction: Reduction) -> Iterator[Doubt]:
    deepest = float(reduction.lift_over_diameter[-1])
    if deepest > DEEP_LIFT:
        yield Doubt(
            gettext(
                "the last lift is {deepest:.2f} of the valve's diameter; past "
                "{deep_lift} the coefficients say little of the valve",
                deepest=deepest,
                deep_lift=DEEP_LIFT,
            )
        )


def _unlike(before: Reduction, after: Reduction) -> Iterator[str]:
    first, second = before.test, after.test
    if first.side != second.side:
        yield gettext(
            "an {first} side is compared with an {second} side",
            first=translated(first.side),
            second=translated(second.side),
        )
    stated, later = first.reference_pressure, second.reference_pressure
    # A millionth forgives conversion of units.
    if abs(stated - later) > 1e-6 * later:
        yield (
            gettext(
                "flows are stated at {stated:.4g} kPa before and {later:.4g} kPa after: "
                "the gain does not compare like values",
                stated=stated / 1000.0,
                later=later / 1000.0,
            )
        )
    if share_calibration(before, after) and _calibration(first) != _calibration(second):
        yield (
            gettext(
                "both name the same calibration but differ in its factor, points or uncertainty; "
                "the gain's uncertainty takes the later session's"
            )
        )
    if not ((after.lifts >= before.lifts[0]) & (after.lifts <= before.lifts[-1])).any():
        yield (
            gettext(
                "the two tests share no range of lift: no lift of the later one lies within the "
                "earlier one's"
            )
        )


def _calibration(test: FlowTest) -> tuple[object, ...]:
    fitted = None if test.fitted is None else test.fitted.key
    return test.calibration_factor, fitted, test.uncertainty.calibration
