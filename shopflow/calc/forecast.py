r"""A forecast of what a step will give, from past cases of the same work.

The model, for the case i of the group j (the engine type):

.. math:: y_i \sim N(\theta_j, s_i^2 + \tau^2), \quad \theta_j \sim N(\mu, \omega^2)

y is the logarithm of a head's mean effective area after over before, s its standard uncertainty, τ
the standard deviation between heads of a type and ω that between types. So a type with few cases
borrows from the others, the more the less types differ. Priors of μ, τ and ω are flat. Given τ and
ω all is normal and in closed form (Gelman et al., Bayesian Data Analysis, 3rd ed. (2013), 5.4, from
memory); over τ and ω it is summed on a grid, without any drawing of lots.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from dataclasses import dataclass
from functools import cached_property
from math import expm1

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.mixture import NormalMixture

FEWEST_CASES = 5
"""Cases below which there is no forecast."""

FEWEST_GROUPS = 3
"""Groups from which another group may be forecast: two do not tell how far groups differ."""

NOMINAL = 0.90
"""Share of new cases that an interval is made to hold: nine of ten."""

CHANCES = (0.5 * (1.0 - NOMINAL), 0.5, 0.5 * (1.0 + NOMINAL))

NODES = 24
"""Nodes of the grid along τ and along ω: twice as many move no limit by a thousandth of the
interval."""

REACH = 10.0
"""Greatest τ and ω on the grid, as a multiple of the standard deviation of all cases."""

_LEAST = 1e-9


@dataclass(frozen=True, slots=True)
class Case:
    """One case: its group, its value and that value's standard uncertainty."""

    group: Hashable
    value: float
    standard_uncertainty: float


@dataclass(frozen=True, slots=True)
class Forecast:
    """The interval that nine of ten new cases should fall into, and the cases it is from."""

    low: float
    median: float
    high: float
    """Logarithms of the ratio of areas."""

    cases: int
    same_group: int
    """Cases of the forecast's own group among them."""

    @property
    def low_percent(self) -> float:
        """Lower limit as a gain in percent."""
        return 100.0 * expm1(self.low)

    @property
    def median_percent(self) -> float:
        """Middle as a gain in percent."""
        return 100.0 * expm1(self.median)

    @property
    def high_percent(self) -> float:
        """Upper limit as a gain in percent."""
        return 100.0 * expm1(self.high)

    def holds(self, value: float) -> bool:
        """True where a value lies inside."""
        return self.low <= value <= self.high


def forecast(cases: Sequence[Case], group: Hashable) -> Forecast | None:
    """The next case of a group; None where too few are on record to say anything.

    Parameters
    ----------
    cases : past cases of the same work, one a head
    group : that the next case is of; it need not have one yet

    Notes
    -----
    The next case is forecast as it will be measured: with the standard uncertainty in the middle of
    those of its group, or of all where the group has none.

    Examples
    --------
    >>> past = [Case("four", gain, 0.01) for gain in (0.03, 0.04, 0.05, 0.06, 0.07)]
    >>> forecast(past[:4], "four") is None
    True
    >>> round(forecast(past, "four").median, 3)
    0.05
    """
    own = [case for case in cases if case.group == group]
    is_known = bool(own) or len({case.group for case in cases}) >= FEWEST_GROUPS
    if len(cases) < FEWEST_CASES or not is_known:
        return None
    measured = float(np.median([case.standard_uncertainty for case in own or cases]))
    low, median, high = Pooled.of(cases).next_case(group, measured).quantiles(CHANCES)
    return Forecast(low, median, high, len(cases), len(own))


@dataclass(frozen=True)
class Pooled:
    """Cases pooled at each node of a grid of τ and ω."""

    groups: dict[Hashable, int]
    """Column of each group."""

    within: Floats
    """τ, one a row."""

    between: Floats
    """ω, one a column."""

    log_prior: Floats
    """Logarithm of each node's share of the prior, by row and column."""

    log_within: Floats
    """Logarithm of the likelihood of each τ, groups apart."""

    precisions: Floats
    means: Floats
    """Of each group, by row and group."""

    @classmethod
    def of(
        cls, cases: Sequence[Case], within: Floats | None = None, between: Floats | None = None
    ) -> Pooled:
        """Pool cases; τ or ω are these alone, each as probable as the next, where they are given.

        A τ of 0 wants cases that all have an uncertainty.
        """
        groups: dict[Hashable, int] = {}
        columns = np.array([groups.setdefault(case.group, len(groups)) for case in cases])
        values = np.array([case.value for case in cases])
        squares = np.array([case.standard_uncertainty for case in cases]) ** 2
        nodes, log_shares = _nodes(max(REACH * float(values.std()), _LEAST))
        even = np.zeros(1)
        rows, of_rows = (nodes, log_shares) if within is None else (within, even)
        others, of_others = (nodes, log_shares) if between is None else (between, even)
        belongs = np.eye(len(groups))[columns]
        weights = 1.0 / (squares + rows[:, np.newaxis] ** 2)
        precisions = weights @ belongs
        means = (weights * values) @ belongs / precisions
        residuals = values - means[:, columns]
        return cls(
            groups,
            rows,
            others,
            of_rows[:, np.newaxis] + of_others,
            0.5
            * (
                np.log(weights).sum(axis=1)
                - np.log(precisions).sum(axis=1)
                - (weights * residuals**2).sum(axis=1)
            ),
            precisions,
            means,
        )

    @cached_property
    def _shares(self) -> Floats:
        """Precision of each group's mean about μ, by row, column and group."""
        variances = 1.0 / self.precisions[:, np.newaxis] + self.between[:, np.newaxis] ** 2
        return np.asarray(1.0 / variances)

    @cached_property
    def _total(self) -> Floats:
        """Precision of μ, by row and column."""
        return np.asarray(self._shares.sum(axis=2))

    @cached_property
    def _centre(self) -> Floats:
        """Mean of μ, by row and column."""
        sums = (self._shares * self.means[:, np.newaxis]).sum(axis=2)
        return np.asarray(sums / self._total)

    @cached_property
    def _log_weights(self) -> Floats:
        residuals = self.means[:, np.newaxis] - self._centre[:, :, np.newaxis]
        logs = (
            self.log_prior
            + self.log_within[:, np.newaxis]
            + 0.5 * np.log(self._shares).sum(axis=2)
            - 0.5 * np.log(self._total)
            - 0.5 * (self._shares * residuals**2).sum(axis=2)
        )
        return np.asarray(logs)

    def centre(self) -> NormalMixture:
        """The mean over all groups, μ."""
        return NormalMixture.of(self._log_weights, self._centre, 1.0 / self._total)

    def effect(self, group: Hashable) -> NormalMixture:
        """The mean of a group, θ; of one without a case, as groups differ."""
        return NormalMixture.of(self._log_weights, *self._moments(group))

    def next_case(self, group: Hashable, standard_uncertainty: float) -> NormalMixture:
        """The next case of a group, measured with this uncertainty."""
        means, variances = self._moments(group)
        spread = self.within[:, np.newaxis] ** 2 + standard_uncertainty**2
        return NormalMixture.of(self._log_weights, means, variances + spread)

    def _moments(self, group: Hashable) -> tuple[Floats, Floats]:
        """Mean and variance of a group's mean, by row and column."""
        squares = self.between**2
        column = self.groups.get(group)
        if column is None:
            return self._centre, squares + 1.0 / self._total
        # Share of the group's own cases; the rest is of the mean over all.
        own = squares * self._shares[:, :, column]
        mean = own * self.means[:, column, np.newaxis] + (1.0 - own) * self._centre
        alone = own / self.precisions[:, column, np.newaxis]
        return mean, alone + (1.0 - own) ** 2 / self._total


def _nodes(greatest: float) -> tuple[Floats, Floats]:
    """Nodes from 0 to the greatest, denser towards 0, and logarithms of a flat prior's shares."""
    steps = (np.arange(NODES) + 0.5) / NODES
    return greatest * steps**2, np.log(steps)
