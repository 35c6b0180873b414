"""Effective areas of tests against each other: gains that do not depend on air or pressure."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.area_errors import AreaErrors, area_errors
from shopflow.calc.estimates import Estimates, Input, mean_of
from shopflow.calc.kinds import Floats
from shopflow.calc.lift_curve import LiftCurve, sensitivities
from shopflow.calc.reduction import Reduction
from shopflow.calc.verdicts import Verdict, holm, verdict_of

SAME_LIFT = 1e-9
"""m within which two lifts are one: far below any setting, above any rounding."""

ROUNDING = 1e-9
"""Of one division: a gain of exactly one must not pass for more by rounding."""

Span = tuple[float, float]
"""A range of lift, m."""

MoreRuns = Mapping[int, Mapping[int, int]]
"""Further runs supposed: by the place of the test, and there by the index of the lift."""


@dataclass(frozen=True, slots=True)
class AreaGain:
    """The later side's effective area against the earlier's, at a lift or in the mean over some."""

    low: float
    high: float
    """Range of lift of a mean, m; at one lift both are that lift."""

    before: float
    after: float
    """m2."""

    expanded_uncertainty: float | None
    """Of `gain` for 95 %; None where it is not stated."""

    verdict: Verdict

    @property
    def gain(self) -> float:
        """Relative gain."""
        return self.after / self.before - 1.0


@dataclass(frozen=True)
class AreaComparison:
    """Two sides against each other over the lifts they have in common."""

    points: tuple[AreaGain, ...]
    """At the later side's lifts; verdicts that hold for all of them together."""

    mean: AreaGain | None
    """Over the common range, with a verdict of its own; None where there is no such range."""

    parts: tuple[AreaGain, ...]
    """Means over the parts asked for; verdicts that hold for all of them together."""

    unread: tuple[int, ...] = ()
    """Places of the tests of which neither scatter nor the scale's division is known."""

    half_stated: frozenset[Input] = frozenset()
    """Inputs that some of the tests state and others leave unknown."""

    is_one_side: bool = True
    """Whether all are intake, or all exhaust: otherwise there is a ratio, and no gain or loss."""


def compare_areas(
    before: Sequence[Reduction],
    after: Sequence[Reduction],
    parts: Sequence[Span] = (),
    more_runs: MoreRuns | None = None,
) -> AreaComparison:
    """The later side's effective area against the earlier's.

    Parameters
    ----------
    before, after : one or more tests each; of several the mean area counts
    parts : ranges of lift inside the common one, m, to compare the means over
    more_runs : see MoreRuns; places count through `before` and then `after`

    Returns
    -------
    AreaComparison at the lifts of the last test inside the range that all cover

    Notes
    -----
    Chances come from Student's t of the logarithm of the ratio. Over several lifts, and over
    several parts, no more than one unchanged head in twenty gets any verdict (Holm). A lift that
    not all tested gets none and stays out of them, and so does all where a test says nothing of
    its readings, or states an input that another leaves unknown. A lift is never called unless
    its gain exceeds one division of the scale over the net reading, on whichever side that is
    more; nor is a mean over a single lift.
    """
    tests = [*before, *after]
    low, high = common_range(tests)
    if low > high:
        return AreaComparison((), None, ())
    lifts = tests[-1].lifts
    lifts = lifts[(lifts >= low) & (lifts <= high)]
    spans = [(low, high), *parts]
    errors = [_errors(tests, place, more_runs) for place in range(len(tests))]
    sides = [figures(*pair, lifts, spans) for pair in zip(tests, errors, strict=True)]
    first, second = mean_of(sides[: len(before)]), mean_of(sides[len(before) :])
    half_stated, unread = _half_stated(errors), _unread(errors)
    one_side = len({test.test.side for test in tests}) == 1
    unstated = bool(half_stated or unread or not one_side)
    judged = _Judged(second / first, first, second, unstated)
    count = len(lifts)
    division = _division(tests, errors, lifts)
    mean_division = _division(tests, errors, np.array([low])) if low == high else np.zeros(1)
    at_lifts = list(zip(lifts.tolist(), lifts.tolist(), strict=True))
    return AreaComparison(
        points=judged.family(range(count), at_lifts, _tested(tests, lifts), division),
        mean=judged.family(range(count, count + 1), spans[:1], division=mean_division)[0],
        parts=judged.family(range(count + 1, count + len(spans)), spans[1:]),
        unread=unread,
        half_stated=half_stated,
        is_one_side=one_side,
    )


def figures(
    test: Reduction, errors: AreaErrors, lifts: Floats, spans: Sequence[Span] = ()
) -> Estimates:
    """A test's effective area at lifts, and then in the mean over spans, with its errors.

    Parameters
    ----------
    test, errors : of one test
    lifts, spans : inside its range of lift, m
    """

    def figure(curve: LiftCurve) -> Floats:
        means = [curve.mean(*span) for span in spans]
        return np.concatenate((curve.at(lifts), np.stack(means, -1) if means else []), -1)

    areas = test.effective_area
    weights = sensitivities(test.lifts, areas, figure)
    return errors.estimates(figure(LiftCurve(test.lifts, areas)), weights)


def common_range(tests: Sequence[Reduction]) -> Span:
    """Lowest and highest lift that all tests cover; the wrong way round where there is none."""
    low = max(float(test.lifts[0]) for test in tests)
    return low, min(float(test.lifts[-1]) for test in tests)


@dataclass(frozen=True)
class _Judged:
    """All the ratios of a comparison, to be judged family by family."""

    ratios: Estimates
    before: Estimates
    after: Estimates
    is_unstated: bool

    def family(
        self,
        places: range,
        spans: Sequence[Span],
        tested: NDArray[np.bool_] | None = None,
        division: Floats | None = None,
    ) -> tuple[AreaGain, ...]:
        """Gains judged together; `division` is what each must exceed."""
        judged = np.ones(len(places), dtype=bool) if tested is None else tested
        if self.is_unstated:
            judged = np.zeros(len(places), dtype=bool)
        chosen = np.array(places, dtype=np.intp)
        shown = np.zeros(len(places), dtype=bool)
        chances = np.asarray(self.ratios.chances)[chosen]
        shown[judged] = holm(chances[judged].tolist())
        ratios = self.ratios.values[chosen]
        if division is not None:
            shown &= np.abs(ratios - 1.0) > division * (1.0 + ROUNDING)
        expanded = ratios * self.ratios.expanded[chosen]
        return tuple(
            AreaGain(
                *spans[row],
                float(self.before.values[place]),
                float(self.after.values[place]),
                float(expanded[row]) if judged[row] else None,
                verdict_of(float(ratios[row]), bool(shown[row]))
                if judged[row]
                else Verdict.NOT_STATED,
            )
            for row, place in enumerate(places)
        )


def _errors(tests: Sequence[Reduction], place: int, more_runs: MoreRuns | None) -> AreaErrors:
    """The errors behind one of the tests; of one lift with the slope that another gives."""
    test, more = tests[place], (more_runs or {}).get(place)
    steepness = _steepness_of_another(tests, test)
    if steepness is None and more is None:
        return test.area_errors
    return area_errors(test.test, test.lifts, test.effective_area, steepness, more)


def _steepness_of_another(tests: Sequence[Reduction], test: Reduction) -> Floats | None:
    """Relative slope at the only lift of a test, from another that has more and covers it."""
    if len(test.lifts) > 1:
        return None
    for other in tests:
        if len(other.lifts) > 1 and test.lifts[0] <= other.lifts[-1]:
            curve = LiftCurve(other.lifts, other.effective_area)
            return curve.slope(test.lifts) / curve.at(test.lifts)
    return None


def _tested(tests: Sequence[Reduction], lifts: Floats) -> NDArray[np.bool_]:
    """Which lifts were tested by every test."""
    near = [np.abs(test.lifts[:, np.newaxis] - lifts).min(axis=0) < SAME_LIFT for test in tests]
    return np.asarray(np.logical_and.reduce(near))


def _division(tests: Sequence[Reduction], errors: Sequence[AreaErrors], lifts: Floats) -> Floats:
    """One division over the net reading at lifts, the largest of all tests'; 0 where unknown."""
    known = [
        np.interp(lifts, test.lifts, error.division)
        for test, error in zip(tests, errors, strict=True)
        if error.division is not None
    ]
    return np.asarray(np.maximum.reduce(known)) if known else np.zeros(len(lifts))


def _half_stated(errors: Sequence[AreaErrors]) -> frozenset[Input]:
    """Inputs that some tests state and others leave unknown: unknown for the comparison."""
    unknown = [one.unknown for one in errors]
    return frozenset.union(*unknown) - frozenset.intersection(*unknown)


def _unread(errors: Sequence[AreaErrors]) -> tuple[int, ...]:
    """Places of the tests that say nothing of their readings. A resolution that not all state is
    unknown for the comparison: then only scatter says something."""
    by_division = all(one.division is not None for one in errors)
    return tuple(
        place
        for place, one in enumerate(errors)
        if not (one.is_stated if by_division else one.scatter.is_known)
    )
