"""Quantiles of a mixture of normal distributions."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from math import sqrt
from statistics import NormalDist

import numpy as np

from shopflow.calc.array_types import Floats

_NEGLIGIBLE = 1e-6
"""Weight of a component, against the heaviest, below which it is left out."""

_HALVINGS = 36
"""Of the range of the components' own quantiles: far below any digit shown."""

_STANDARD = NormalDist()
_TURNING = 0.3275911
_TERMS = (0.254829592, -0.284496736, 1.421413741, -1.453152027, 1.061405429)


@dataclass(frozen=True)
class NormalMixture:
    """Normal distributions, and the weight of each; weights add up to 1."""

    weights: Floats
    means: Floats
    deviations: Floats
    """Standard deviations, above 0."""

    @classmethod
    def of(cls, log_weights: Floats, means: Floats, variances: Floats) -> NormalMixture:
        """A mixture from logarithms of its weights up to a constant; arrays of one shape."""
        weights = np.exp(log_weights - log_weights.max()).ravel()
        counting = weights > _NEGLIGIBLE
        weights = weights[counting] / weights[counting].sum()
        return cls(weights, means.ravel()[counting], np.sqrt(variances.ravel()[counting]))

    @property
    def mean(self) -> float:
        """Mean of the whole."""
        return float(self.weights @ self.means)

    def chance_below(self, values: Floats) -> Floats:
        """Chance of a value below each of these."""
        return normal_chance((values[:, np.newaxis] - self.means) / self.deviations) @ self.weights

    def quantiles(self, chances: Sequence[float]) -> list[float]:
        """Values that are not exceeded with these chances, by bisection.

        They lie among the components' own.
        """
        wanted = np.asarray(chances)
        scores = np.array([_STANDARD.inv_cdf(chance) for chance in chances])
        own = self.means + scores[:, np.newaxis] * self.deviations
        low, high = own.min(axis=1), own.max(axis=1)
        for _ in range(_HALVINGS):
            middle = 0.5 * (low + high)
            is_below = self.chance_below(middle) < wanted
            low, high = np.where(is_below, middle, low), np.where(is_below, high, middle)
        return [float(value) for value in 0.5 * (low + high)]


def normal_chance(deviations: Floats) -> Floats:
    """Chance of a standard normal variable below each of these.

    Notes
    -----
    Within 1e-7. Source: Abramowitz and Stegun, Handbook of Mathematical Functions (1964), 7.1.26.

    Examples
    --------
    >>> [round(float(chance), 4) for chance in normal_chance(np.array([-1.6449, 0.0, 1.96]))]
    [0.05, 0.5, 0.975]
    """
    x = np.abs(deviations) / sqrt(2.0)
    t = 1.0 / (1.0 + _TURNING * x)
    series = np.zeros_like(t)
    for term in reversed(_TERMS):
        series = (series + term) * t
    tail = 0.5 * series * np.exp(-x * x)
    return np.where(deviations < 0.0, tail, 1.0 - tail)
