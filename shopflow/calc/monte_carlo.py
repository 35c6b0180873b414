"""Propagation of distributions by trials (JCGM 101:2008), the same each time for like inputs."""

from __future__ import annotations

from dataclasses import dataclass
from hashlib import sha256
from math import isfinite

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.estimates import Estimates
from shopflow.texts import gettext

TRIALS = 25_000
"""A fixed number (JCGM 101, 7.2): an end of a 95 % interval then scatters by 0.017 standard
uncertainties, so that twice it stays within the tolerance of 7.9 for one digit of these (0.05)."""

TAIL = 0.025
"""Share of the trials beyond each end."""

LEAST_SHARE = 0.01
"""Least share of a figure that an error leaves of it: an area is never nothing or negative."""


@dataclass(frozen=True)
class Range:
    """An input of which only the ends are known: every value between is as likely."""

    low: float
    high: float

    def __post_init__(self) -> None:
        """Raise ValueError where the ends are not in order."""
        if not (isfinite(self.low) and isfinite(self.high) and self.low <= self.high):
            raise ValueError(gettext("the lower end of a range is above its upper end"))

    def draw(self, generator: np.random.Generator, trials: int = TRIALS) -> Floats:
        """Values of the trials (JCGM 101, 6.4.2)."""
        return generator.uniform(self.low, self.high, trials)

    def shifted(self, by: float) -> Range:
        """The range with both ends moved."""
        return Range(self.low + by, self.high + by)

    def about(self, middle: float) -> Range:
        """A range as wide about another middle."""
        half = (self.high - self.low) / 2.0
        return Range(middle - half, middle + half)


@dataclass(frozen=True)
class Interval:
    """Ends between which a figure lies 19 times in 20, as often beyond one as beyond the other."""

    low: float
    median: float
    high: float

    def holds(self, value: float) -> bool:
        """Tell whether a value lies in it, ends included."""
        return self.low <= value <= self.high


def generator(*inputs: object) -> np.random.Generator:
    """Random numbers that depend on the inputs alone, so that a figure is the same twice.

    >>> first, again, other = (generator(1.5, seed).random() for seed in ("a", "a", "b"))
    >>> first == again, first == other
    (True, False)
    """
    digest = sha256(repr(inputs).encode()).digest()
    return np.random.default_rng(int.from_bytes(digest[:16], "big"))


def interval(draws: Floats) -> Interval:
    """The probabilistically symmetric interval of trials for 95 % (JCGM 101, 7.7)."""
    low, median, high = np.quantile(draws, (TAIL, 0.5, 1.0 - TAIL)).tolist()
    return Interval(low, median, high)


def intervals(draws: Floats) -> Floats:
    """The same of several figures, a column each: rows of low ends, medians and high ends."""
    return np.asarray(np.quantile(draws, (TAIL, 0.5, 1.0 - TAIL), axis=0))


def draw_estimates(
    estimates: Estimates, generator: np.random.Generator, trials: int = TRIALS
) -> Floats:
    """Trials of figures of a test, a row each, with the errors they share.

    Errors are normal; those estimated from few readings follow Student's t, one for all errors of
    their group (JCGM 101, 6.4.7 and 6.4.9).
    """
    sources = list(estimates.effects)
    if not sources:
        return np.broadcast_to(estimates.values, (trials, len(estimates.values)))
    errors = generator.standard_normal((trials, len(sources)))
    for group, freedom in estimates.freedoms.items():
        columns = [
            index for index, source in enumerate(sources) if (source.input, source.owner) == group
        ]
        widened = np.sqrt(freedom / generator.chisquare(freedom, trials))
        errors[:, columns] *= widened[:, np.newaxis]
    effects = np.stack([estimates.effects[source] for source in sources])
    return np.asarray(estimates.values * np.maximum(1.0 + errors @ effects, LEAST_SHARE))
