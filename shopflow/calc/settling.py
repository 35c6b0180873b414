"""Choice of the one further reading that would settle a comparison."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

import numpy as np

from shopflow.calc.area_gain import AreaComparison, AreaGain, compare_areas
from shopflow.calc.reduction import Reduction
from shopflow.calc.verdicts import Verdict


@dataclass(frozen=True, slots=True)
class NextReading:
    """A lift to read once more."""

    test: int
    """Place of the test among those of both sides, the earlier first."""

    lift: float
    """m."""

    settles_mean: bool
    """True where it settles the mean, False where that lift alone."""


def next_reading(
    before: Sequence[Reduction], after: Sequence[Reduction], comparison: AreaComparison
) -> NextReading | None:
    """The one reading more that would settle a comparison; None where none would, or all is clear.

    Parameters
    ----------
    before, after : as given to `compare_areas`
    comparison : what it gave

    Notes
    -----
    Where nothing is known of the readings of a test, any repeat says something: the middle lift's.
    Otherwise the head that was measured last can still be read: a reading settles the matter if
    it would make a verdict, should it agree with those there are.
    """
    if comparison.mean is None or comparison.half_stated or not comparison.is_one_side:
        return None
    tests = [*before, *after]
    if comparison.unread:
        test = comparison.unread[-1]
        lifts = tests[test].lifts
        return NextReading(test, float(lifts[len(lifts) // 2]), True)
    wanted = [comparison.mean, *comparison.points]
    if not any(_is_near(gain) for gain in wanted):
        return None
    return next(_settling(before, after, comparison), None)


def _settling(
    before: Sequence[Reduction], after: Sequence[Reduction], comparison: AreaComparison
) -> Iterator[NextReading]:
    """The readings that would settle something, those that settle the mean first."""
    test = len(before) + len(after) - 1
    lifts = after[-1].lifts
    read = [
        (float(lift), compare_areas(before, after, more_runs={test: {at: 1}}))
        for at, lift in enumerate(lifts)
    ]
    if comparison.mean is not None and _is_near(comparison.mean):
        settling = [(lift, then.mean) for lift, then in read if then.mean and _is_called(then.mean)]
        if settling:
            sure = [_excess(gain) for _, gain in settling]
            yield NextReading(test, settling[int(np.argmax(sure))][0], True)
    for lift, then in read:
        for now, later in zip(comparison.points, then.points, strict=True):
            if now.low == lift and _is_near(now) and _is_called(later):
                yield NextReading(test, lift, False)


def _is_near(gain: AreaGain) -> bool:
    """True where a gain that is not called is at least half of what would be."""
    return gain.verdict is Verdict.NO_DIFFERENCE and 2.0 * _excess(gain) > 1.0


def _is_called(gain: AreaGain) -> bool:
    return gain.verdict in (Verdict.GAIN, Verdict.LOSS)


def _excess(gain: AreaGain) -> float:
    """A gain over its expanded uncertainty."""
    return abs(gain.gain) / gain.expanded_uncertainty if gain.expanded_uncertainty else 0.0
