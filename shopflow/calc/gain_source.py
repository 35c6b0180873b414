"""Sources of a gain: a wider opening, or a better coefficient of it."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import sqrt

import numpy as np

from shopflow.calc.areas import Valve, least_valve_area
from shopflow.calc.array_types import Floats
from shopflow.calc.brought import bring
from shopflow.calc.cam import ValveMotion
from shopflow.calc.cam_gain import lifts_over_cam
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.reduction import Reduction
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.calc.valve_sizes import FIELDS, size, with_size
from shopflow.texts import gettext

STEPS = 2_000
"""Steps of lift that a mean is taken over: within a part in 1e6 of finer ones."""

CHANGE = 1e-6
"""Relative change of a size by which its effect is found, by central differences."""


@dataclass(frozen=True, slots=True)
class GainSource:
    """A relative gain in effective area, and the two parts that add up to it."""

    low: float
    high: float
    """Range of lift of a mean, m; at one lift both are that lift."""

    opening: float
    """Part that comes from the least geometric area, relative."""

    coefficient: float
    """Part that comes from the discharge coefficient of that area, relative."""

    opening_uncertainty: float | None
    """Expanded (k = 2), of `opening`; None where a size that differs states none."""

    @property
    def gain(self) -> float:
        """The whole, relative."""
        return self.opening + self.coefficient


@dataclass(frozen=True)
class GainSources:
    """The sources of the gain of one test over another."""

    points: tuple[GainSource, ...]
    """At the later test's lifts inside the range both cover."""

    mean: GainSource
    """Of the mean over that range."""


@dataclass(frozen=True)
class _Pair:
    """Two tests at the same lifts, each with its effective and its least geometric area."""

    tests: tuple[Reduction, Reduction]
    low: float
    high: float

    def areas(self, lifts: Floats) -> Floats:
        """Effective areas of both, a row each, m2."""
        return np.stack(
            [LiftCurve(test.lifts, test.effective_area).at(lifts) for test in self.tests]
        )

    def split(self, span: tuple[float, float], lifts: Floats) -> GainSource:
        """The split of the mean over lifts that are equal steps of whatever it is taken over.

        The logarithm of the ratio of two sums of products splits exactly under weights that are
        the logarithmic means of each term's shares in the two sums.
        """
        areas = self.areas(lifts) * _trapezoids(len(lifts))
        before, after = areas.sum(axis=1)
        means = _log_mean(areas[0] / before, areas[1] / after)
        shares = means / means.sum()
        log_gain = float(np.log(after / before))
        scale = float(np.expm1(log_gain)) / log_gain if log_gain else 1.0

        def log_opening(before: Valve, after: Valve) -> float:
            return float(shares @ np.log(_least_area(after, lifts) / _least_area(before, lifts)))

        tests = [test.test for test in self.tests]
        opening = log_opening(tests[0].valve, tests[1].valve)
        uncertainty = _uncertainty(tests, log_opening)
        return GainSource(
            *span,
            opening=scale * opening,
            coefficient=scale * (log_gain - opening),
            opening_uncertainty=None if uncertainty is None else scale * uncertainty,
        )


def gain_sources(before: Reduction, after: Reduction) -> GainSources | None:
    r"""Split the gain of a test over another into opening and coefficient.

    .. math:: \ln(A_2/A_1) = \ln(G_2/G_1) + \ln(C_2/C_1), \quad A = C G

    with A the effective area, G the least geometric area of `least_valve_area` times the number of
    valves, C the discharge coefficient on it.

    Parameters
    ----------
    before, after : tests of one side

    Returns
    -------
    GainSources; None where a test does not state its seat, the tests are of two sides, or no range
    of lift is common to them

    Notes
    -----
    Each part is its logarithm times (ratio − 1)/ln(ratio), so that the parts add up to the gain.
    A mean over lift splits by the ideal index of Sato and Vartia, which leaves no remainder: a
    coefficient that is better by one factor at every lift comes out as that factor. Source:
    K. Sato, Rev. Econ. Stat. 58 (1976) 223; Y. O. Vartia, Scand. J. Econ. 78 (1976) 121 (from
    memory).

    The opening is geometry: it is what there is room for between valve and seat, or in the throat.
    All that the air does differently is in the coefficient: a rounder seat, a smoother short side,
    a throat that now limits what the seat passes.
    """
    pair = _pair(before, after)
    if pair is None:
        return None
    inside = (after.lifts >= pair.low) & (after.lifts <= pair.high)
    span = (pair.low, pair.high)
    return GainSources(
        points=tuple(
            pair.split((lift, lift), np.array([lift])) for lift in after.lifts[inside].tolist()
        ),
        mean=pair.split(span, np.linspace(*span, STEPS + 1 if span[1] > span[0] else 1)),
    )


def gain_sources_over_cams(
    before: Reduction, after: Reduction, motions: Sequence[ValveMotion]
) -> tuple[GainSource | None, ...]:
    """Split the gain in mean effective area over cams; see `gain_sources`.

    Parameters
    ----------
    before, after : tests of one side
    motions : of the valve, one for each cam

    Returns
    -------
    a GainSource for each cam, over the same time as `compare_over_cams` takes, and None for one
    that stays below the first lift both tests have; nothing where `gain_sources` gives none
    """
    pair = _pair(before, after)
    if pair is None:
        return ()
    span = (pair.low, pair.high)
    return tuple(
        pair.split(span, np.minimum(lifts_over_cam(motion, pair.low), pair.high))
        if motion.greatest_lift >= pair.low
        else None
        for motion in motions
    )


def _pair(before: Reduction, after: Reduction) -> _Pair | None:
    brought = bring([before, after])
    if brought is None or not brought.is_one_side:
        return None
    if before.test.valve.seat is None or after.test.valve.seat is None:
        return None
    return _Pair((before, after), *brought.spans[0])


def _least_area(valve: Valve, lifts: Floats) -> Floats:
    """Least geometric area of all valves of a port, m2."""
    if valve.seat is None:
        raise ValueError(gettext("the seat is not stated"))
    return np.asarray(valve.count * least_valve_area(valve.head_diameter, valve.seat, lifts))


def _trapezoids(count: int) -> Floats:
    """Weights of values at equal steps in their mean."""
    weights = np.ones(count)
    if count > 1:
        weights[[0, -1]] = 0.5
    return np.asarray(weights / weights.sum())


def _log_mean(first: Floats, second: Floats) -> Floats:
    """Logarithmic mean, (y − x)/ln(y/x); of two equal numbers, that number."""
    logarithm = np.log(second / first)
    is_same = np.abs(logarithm) < 1e-9
    return np.where(
        is_same, (first + second) / 2.0, (second - first) / np.where(is_same, 1.0, logarithm)
    )


def _uncertainty(
    tests: Sequence[FlowTest], log_opening: Callable[[Valve, Valve], float]
) -> float | None:
    """Expanded uncertainty of the logarithm of the opening, from those of the sizes.

    A size that both tests state alike is one measurement: what it is off by, it is off by in both.
    """
    squares = 0.0
    for name in FIELDS:
        stated = [(size(test.valve, name), getattr(test.uncertainty, name)) for test in tests]
        owners = [(0, 1)] if stated[0] == stated[1] else [(0,), (1,)]
        for owned in owners:
            effect = _effect([test.valve for test in tests], owned, name, log_opening)
            deviation = stated[owned[0]][1]
            if effect and deviation is None:
                return None
            squares += (effect * (deviation or 0.0)) ** 2
    return COVERAGE_FACTOR * sqrt(squares)


def _effect(
    valves: Sequence[Valve],
    owners: Sequence[int],
    name: str,
    log_opening: Callable[[Valve, Valve], float],
) -> float:
    """Change of the logarithm of the opening with a size of these valves, per m or rad."""
    step = CHANGE * size(valves[owners[0]], name)

    def moved(by: float) -> float:
        before, after = (
            with_size(valve, name, size(valve, name) + by) if index in owners else valve
            for index, valve in enumerate(valves)
        )
        return log_opening(before, after)

    return (moved(step) - moved(-step)) / (2.0 * step)
