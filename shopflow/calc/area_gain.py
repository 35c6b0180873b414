"""Effective areas of tests against each other: gains that do not depend on air or pressure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.array_types import Floats
from shopflow.calc.brought import MoreRuns, Span, bring
from shopflow.calc.estimates import Estimates, Input, mean_of
from shopflow.calc.reduction import Reduction
from shopflow.calc.set_up import Unlike
from shopflow.calc.verdicts import Verdict, holm, verdict_of

ROUNDING = 1e-9
"""Of one division: a gain of exactly one must not pass for more by rounding."""


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
    standard_uncertainty: float = 0.0
    """Of `gain`, from what is stated."""

    freedom: float = inf
    """Effective degrees of freedom of that."""

    chance: float = 1.0
    """That the gain is as far from none by chance alone."""

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
    """True where all are intake, or all exhaust: otherwise there is a ratio, and no gain or
    loss."""

    unlike: tuple[Unlike, ...] = ()
    """Parts of the set-ups that are unlike, and not confirmed as meant: then nothing is the
    head's."""


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
    its readings, states an input that another leaves unknown, or stood on an unlike set-up. A
    lift is never called unless its gain exceeds one division of the scale over the net reading,
    on whichever side that is more; nor is a mean over a single lift.
    """
    brought = bring([*before, *after], parts, more_runs)
    if brought is None:
        return AreaComparison((), None, ())
    is_stated = brought.is_stated and brought.is_one_side
    judged = Judged.of(brought.places, brought.estimates, len(before), is_stated)
    division = np.array([brought.mean_division])
    return AreaComparison(
        points=judged.family(brought.at_lifts, brought.tested, brought.division),
        mean=judged.family(brought.over_all, division=division)[0],
        parts=judged.family(brought.over_parts),
        unread=brought.unread,
        half_stated=brought.half_stated,
        is_one_side=brought.is_one_side,
        unlike=brought.unlike,
    )


@dataclass(frozen=True)
class Judged:
    """All the ratios of a comparison, to be judged family by family."""

    spans: Sequence[Span]
    before: Estimates
    after: Estimates
    ratios: Estimates
    is_stated: bool

    @classmethod
    def of(
        cls,
        spans: Sequence[Span],
        estimates: Sequence[Estimates],
        earlier: int,
        is_stated: bool,
    ) -> Judged:
        """The ratios of the mean of the later tests to that of the `earlier` ones."""
        before, after = mean_of(estimates[:earlier]), mean_of(estimates[earlier:])
        return cls(spans, before, after, after / before, is_stated)

    def family(
        self,
        indexes: range,
        tested: NDArray[np.bool_] | None = None,
        division: Floats | None = None,
    ) -> tuple[AreaGain, ...]:
        """Gains judged together; `division` is what each must exceed."""
        chosen = np.array(indexes, dtype=np.intp)
        judged = np.full(len(indexes), self.is_stated)
        if tested is not None:
            judged &= tested
        is_shown = np.zeros(len(indexes), dtype=bool)
        is_shown[judged] = holm([self.ratios.chances[index] for index in chosen[judged]])
        ratios = self.ratios.values[chosen]
        if division is not None:
            is_shown &= np.abs(ratios - 1.0) > division * (1.0 + ROUNDING)
        expanded = ratios * self.ratios.expanded[chosen]
        return tuple(
            AreaGain(
                *self.spans[index],
                float(self.before.values[index]),
                float(self.after.values[index]),
                float(expanded[row]) if judged[row] else None,
                verdict_of(float(ratios[row]), bool(is_shown[row]))
                if judged[row]
                else Verdict.NOT_STATED,
                float(ratios[row] * self.ratios.standard[index]),
                float(self.ratios.freedom[index]),
                self.ratios.chances[index],
            )
            for row, index in enumerate(indexes)
        )
