"""Two sessions against each other: what a cut was worth."""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.area_gain import AreaComparison, AreaGain, compare_areas
from shopflow.calc.array_types import Floats
from shopflow.calc.curve import interpolation_weights, mean_over_lift
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import NOT_STATED
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares
from shopflow.calc.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class ComparedPoint:
    """Both sessions at one lift, in SI; the keys of the comparison's JSON."""

    lift: float
    before: float
    after: float
    gain: float
    gain_percent: float
    gain_expanded_uncertainty: float
    significant: bool
    effective_area_before: float
    effective_area_after: float
    area_gain_percent: float
    area_gain_expanded_uncertainty_percent: float | None
    """For 95 %; None where it is not stated."""

    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Comparison:
    """The later session against the earlier over the lifts they have in common."""

    points: tuple[ComparedPoint, ...]
    mean_gain_percent: float | None
    areas: AreaComparison

    @property
    def mean_area_gain_percent(self) -> float | None:
        """Gain in mean effective area over the common range."""
        return None if self.areas.mean is None else 100.0 * self.areas.mean.gain

    @property
    def mean_area_gain_expanded_uncertainty_percent(self) -> float | None:
        """That for 95 %; None where it is not stated."""
        return None if self.areas.mean is None else _percent(self.areas.mean.expanded_uncertainty)

    @property
    def mean_verdict(self) -> Verdict:
        """Verdict on the change of the mean."""
        return Verdict.NOT_STATED if self.areas.mean is None else self.areas.mean.verdict


def across_set_ups(test: Reduction) -> Reduction:
    """The test without its set-up, once a person confirmed that unlike ones are compared."""
    return replace(test, test=replace(test.test, set_up=NOT_STATED))


@dataclass(frozen=True)
class PairedFlows:
    """Two sessions, or two heads, at the later one's lifts inside the range both have; SI."""

    lifts: Floats
    before: Floats
    """The earlier session's flow, interpolated linearly, m3/s."""

    after: Floats
    u_before: Floats
    u_after: Floats
    """Standard uncertainties of the two, m3/s; without the calibration's where it is shared."""

    common: Floats
    """Relative standard uncertainty of a calibration they share; 0 where they share none."""

    @property
    def gain(self) -> Floats:
        """Later less earlier, m3/s."""
        return np.asarray(self.after - self.before)

    @property
    def u_gain(self) -> Floats:
        """Standard uncertainty of the gain, m3/s."""
        combined = root_sum_of_squares(self.u_before, self.u_after, self.common * self.gain)
        return np.asarray(combined)


def paired_flows(before: Reduction, after: Reduction) -> PairedFlows:
    """Two sessions brought to the later one's lifts.

    Parameters
    ----------
    before, after : reductions; flows at their reference pressures, m3/s

    Returns
    -------
    PairedFlows, with empty arrays where the ranges of lift have nothing in common

    Notes
    -----
    Under one calibration its error is common to both and cancels on the flow they share: only its
    effect on the gain remains. Otherwise every component of both counts.
    Source of the treatment of correlated inputs: JCGM 100:2008, 5.2 and F.1.2.
    """
    inside = _inside(before, after)
    lifts = after.lifts[inside]
    shared = share_calibration(before, after)
    flow_before, u_before = at_lifts(before, lifts, shared)
    return PairedFlows(
        lifts=lifts,
        before=flow_before,
        after=after.flow[inside],
        u_before=u_before,
        u_after=_standard_uncertainty(after, shared)[inside],
        common=after.budget.common[inside] if shared else np.zeros_like(lifts),
    )


def compare(before: Reduction, after: Reduction) -> Comparison:
    """Gain of one session over another, at the later one's lifts inside the common range.

    Parameters
    ----------
    before, after : reductions; flows at their reference pressures, m3/s

    Returns
    -------
    Comparison; no points and no mean where the ranges of lift have nothing in common

    Notes
    -----
    A gain in flow is significant where it exceeds its expanded uncertainty (k = 2), for which see
    `paired_flows`, and the set-ups are not unlike. The verdicts are on the effective area: see
    `compare_areas`.
    """
    paired, areas = paired_flows(before, after), compare_areas([before], [after])
    if len(paired.lifts) == 0:
        return Comparison((), None, areas)
    expanded = COVERAGE_FACTOR * paired.u_gain
    columns = (
        paired.lifts,
        paired.before,
        paired.after,
        paired.gain,
        100.0 * paired.gain / paired.before,
        expanded,
        (np.abs(paired.gain) > expanded) & (not areas.unlike),
    )
    of_areas = [_of_area(point) for point in areas.points]
    rows = zip(*(column.tolist() for column in columns), *zip(*of_areas, strict=True), strict=True)
    points = tuple(ComparedPoint(*row) for row in rows)
    means = (mean_over_lift(paired.lifts, flow) for flow in (paired.before, paired.after))
    return Comparison(points, _gain_percent(*means), areas)


def _of_area(point: AreaGain) -> tuple[float, float, float, float | None, Verdict]:
    """The fields of ComparedPoint that are of the effective area."""
    uncertainty = _percent(point.expanded_uncertainty)
    return point.before, point.after, 100.0 * point.gain, uncertainty, point.verdict


def _percent(relative: float | None) -> float | None:
    return None if relative is None else 100.0 * relative


def _inside(before: Reduction, after: Reduction) -> NDArray[np.bool_]:
    """Mask of the later test's lifts that lie in the range of the earlier one's."""
    lifts = after.lifts
    return np.asarray((lifts >= before.lifts[0]) & (lifts <= before.lifts[-1]))


def _between(
    values: Floats, lower: NDArray[np.intp], upper: NDArray[np.intp], weight: Floats
) -> Floats:
    return np.asarray(values[lower] * (1.0 - weight) + values[upper] * weight)


def _gain_percent(before: float, after: float) -> float:
    return 100.0 * (after / before - 1.0)


def share_calibration(before: Reduction, after: Reduction) -> bool:
    """True where both tests name their bench and calibration, and name the same."""
    key = before.test.calibration_key
    return key is not None and key == after.test.calibration_key


def at_lifts(reduction: Reduction, lifts: Floats, shared: bool) -> tuple[Floats, Floats]:
    """Flow and its standard uncertainty between a session's own lifts, both in m3/s.

    Where the calibration is `shared` with what it is held against, it is left out.
    """
    lower, upper, weight = interpolation_weights(reduction.lifts, lifts)
    flow, u = reduction.flow, _standard_uncertainty(reduction, shared)
    return _between(flow, lower, upper, weight), np.hypot(
        u[lower] * (1.0 - weight), u[upper] * weight
    )


def _standard_uncertainty(reduction: Reduction, shared: bool) -> Floats:
    """Standard uncertainty of the flow, without the calibration where it is shared."""
    budget = reduction.budget
    return np.asarray((budget.own if shared else budget.combined) * reduction.flow)
