"""Tests brought to the same lifts and means over lift, each with the errors behind it."""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.area_errors import AreaErrors, area_errors
from shopflow.calc.array_types import Floats
from shopflow.calc.estimates import Estimates, Input
from shopflow.calc.lift_curve import LiftCurve, figures_and_sensitivities
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import Unlike, differing

SAME_LIFT = 1e-9
"""m within which two lifts are one: far below any setting, above any rounding."""

Span = tuple[float, float]
"""A range of lift, m; a single lift where both ends are it."""

MoreRuns = Mapping[int, Mapping[int, int]]
"""Further runs supposed: by the place of the test, and there by the index of the lift."""


@dataclass(frozen=True)
class Brought:
    """Effective areas of tests at the last one's lifts in the range all cover, and in means."""

    lifts: Floats
    spans: tuple[Span, ...]
    """The common range, and after it the parts that were asked for."""

    tests: tuple[tuple[Reduction, AreaErrors], ...]
    """Each test with the errors behind its areas."""

    estimates: tuple[Estimates, ...]
    """Of each test: its areas at the lifts, then its means over the spans."""

    tested: NDArray[np.bool_]
    """Mask of the lifts at which every test was tested."""

    division: Floats
    """One division over the net reading at each lift, the largest of all tests'; 0 if unknown."""

    mean_division: float
    """The same at the only common lift; 0 where there are more."""

    unread: tuple[int, ...]
    """Places of the tests of which neither scatter nor the scale's division is known."""

    half_stated: frozenset[Input]
    """Inputs that some tests state and others leave unknown: unknown for the comparison."""

    is_one_side: bool
    unlike: tuple[Unlike, ...]
    """Parts of the set-ups that are unlike, and not confirmed as meant."""

    @property
    def is_known(self) -> bool:
        """True where enough is known of every test for an uncertainty."""
        return not (self.unread or self.half_stated)

    @property
    def is_stated(self) -> bool:
        """True where a verdict may be given: all of that is known, on set-ups that are alike."""
        return self.is_known and not self.unlike

    @property
    def at_lifts(self) -> range:
        """Places of the lifts among the estimates."""
        return range(len(self.lifts))

    @property
    def over_all(self) -> range:
        """Place of the mean over the common range."""
        return range(len(self.lifts), len(self.lifts) + 1)

    @property
    def over_parts(self) -> range:
        """Places of the means over the parts."""
        return range(len(self.lifts) + 1, len(self.lifts) + len(self.spans))

    @property
    def places(self) -> list[Span]:
        """The span of each estimate; a lift is one of no width."""
        return [*((lift, lift) for lift in self.lifts.tolist()), *self.spans]


def bring(
    tests: Sequence[Reduction], parts: Sequence[Span] = (), more_runs: MoreRuns | None = None
) -> Brought | None:
    """Bring tests together; None where they have no range of lift in common.

    Parameters
    ----------
    tests : one or more, the one whose lifts count last
    parts : ranges of lift inside the common one, m, to take means over
    more_runs : see MoreRuns
    """
    low = max(float(test.lifts[0]) for test in tests)
    high = min(float(test.lifts[-1]) for test in tests)
    if low > high:
        return None
    lifts = tests[-1].lifts
    lifts = lifts[(lifts >= low) & (lifts <= high)]
    spans = ((low, high), *parts)
    errors = [_errors(tests, index, more_runs) for index in range(len(tests))]
    pairs = list(zip(tests, errors, strict=True))
    return Brought(
        lifts=lifts,
        spans=spans,
        tests=tuple(pairs),
        estimates=tuple(figures(*pair, lifts, spans) for pair in pairs),
        tested=_tested(tests, lifts),
        division=_division(pairs, lifts),
        mean_division=float(_division(pairs, np.array([low]))[0]) if low == high else 0.0,
        unread=_unread(errors),
        half_stated=_half_stated(errors),
        is_one_side=len({test.test.side for test in tests}) == 1,
        unlike=differing([test.test.set_up for test in tests]),
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

    return figures_of(test, errors, figure)


def figures_of(
    test: Reduction, errors: AreaErrors, figure: Callable[[LiftCurve], Floats]
) -> Estimates:
    """Figures of a test's curve of effective area, with its errors.

    `figure` is that of `figures_and_sensitivities`.
    """
    own = figures_and_sensitivities(test.lifts, test.effective_area, figure)
    return errors.estimates(*own)


def _errors(tests: Sequence[Reduction], index: int, more_runs: MoreRuns | None) -> AreaErrors:
    """The errors behind one of the tests; of one lift with the slope that another gives."""
    test, more = tests[index], (more_runs or {}).get(index)
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
    """Mask of the lifts that every test tested."""
    near = [np.abs(test.lifts[:, np.newaxis] - lifts).min(axis=0) < SAME_LIFT for test in tests]
    return np.asarray(np.logical_and.reduce(near))


def _division(pairs: Sequence[tuple[Reduction, AreaErrors]], lifts: Floats) -> Floats:
    """One division over the net reading at lifts, the largest of all tests'; 0 where unknown."""
    divisions = [
        np.interp(lifts, test.lifts, error.division)
        for test, error in pairs
        if error.division is not None
    ]
    return np.asarray(np.maximum.reduce(divisions)) if divisions else np.zeros(len(lifts))


def _half_stated(errors: Sequence[AreaErrors]) -> frozenset[Input]:
    unknown = [error.unknown for error in errors]
    return frozenset.union(*unknown) - frozenset.intersection(*unknown)


def _unread(errors: Sequence[AreaErrors]) -> tuple[int, ...]:
    """A division that not all state is unknown for the comparison: then only scatter counts."""
    by_division = all(error.division is not None for error in errors)
    return tuple(
        index
        for index, error in enumerate(errors)
        if not (error.is_stated if by_division else error.scatter.is_known)
    )
