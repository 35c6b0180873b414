"""The errors behind the effective areas of one flow test, each known by what shares it."""

from __future__ import annotations

from collections.abc import Hashable, Mapping
from dataclasses import dataclass, field
from math import inf, sqrt

import numpy as np

from shopflow.calc.across import flux_exponent
from shopflow.calc.array_types import Floats
from shopflow.calc.estimates import Estimates, Group, Input, Source
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.uncertainty import (
    COVERAGE_FACTOR,
    RunStatistics,
    element_share,
    run_statistics,
)

OF_ONE_LIFT = frozenset({Input.RUNS, Input.RESOLUTION})
"""Inputs whose errors are each lift's own."""


@dataclass(frozen=True)
class Scatter:
    """Relative standard deviation of one run, pooled over the lifts of a test."""

    relative: float
    freedom: float

    @property
    def is_known(self) -> bool:
        """True where it carries information: runs that agree to the last digit carry none."""
        return self.relative > 0.0


@dataclass(frozen=True)
class AreaErrors:
    """Effect of one standard uncertainty of each input on each lift's effective area."""

    relative: Mapping[Input, Floats]
    """Relative change over the test's lifts, of an input with several independent errors a row
    each; only inputs whose uncertainty is known."""

    owners: Mapping[Input, Hashable]
    """Owner of each input's error, which those of one owner share: a calibration, an element, a
    gauge, or this test alone."""

    scatter: Scatter
    unknown: frozenset[Input]
    """Inputs of the whole test whose uncertainty was not stated."""

    division: Floats | None
    """One division of the scale over the net reading at each lift; None where it is unknown."""

    @property
    def is_stated(self) -> bool:
        """True where the error of a single reading is known: its scatter or the scale's
        division."""
        return self.scatter.is_known or Input.RESOLUTION in self.relative

    def estimates(self, values: Floats, weights: Floats | None = None) -> Estimates:
        """Figures of the areas with the errors behind them.

        Parameters
        ----------
        values : the figures
        weights : relative change of each (a row) with that of each lift's area (a column); where
            None the figures are the areas themselves
        """
        matrix = np.eye(len(values)) if weights is None else weights
        effects: dict[Source, Floats] = {}
        for name, relative in self.relative.items():
            owner = self.owners[name]
            if name not in OF_ONE_LIFT:
                for part, row in enumerate(np.atleast_2d(relative)):
                    effects[Source(name, owner, part=part)] = matrix @ row
                continue
            for lift in np.flatnonzero(matrix.any(axis=0)).tolist():
                effects[Source(name, owner, lift)] = matrix[:, lift] * relative[lift]
        return Estimates(values, effects, self._freedoms())

    def _freedoms(self) -> dict[Group, float]:
        if Input.RUNS not in self.relative or self.scatter.freedom == inf:
            return {}
        return {(Input.RUNS, self.owners[Input.RUNS]): self.scatter.freedom}


@dataclass(frozen=True)
class _Alone:
    """A test as the owner of its own errors: equal to itself only, however alike another is."""

    test: FlowTest = field(compare=False)
    key: int


def area_errors(
    test: FlowTest,
    lifts: Floats,
    areas: Floats,
    steepness: Floats | None = None,
    more_runs: Mapping[int, int] | None = None,
) -> AreaErrors:
    r"""The errors behind a test's effective areas.

    Parameters
    ----------
    test : in SI, with what it states of its uncertainty
    lifts, areas : its lifts, m, and effective areas, m2
    steepness : relative slope of the curve at each lift, per m, where another test of the port
        gives it; None for the slope of its own curve
    more_runs : further runs supposed at lifts, by their index, each as scattered as the rest

    Notes
    -----
    With net reading n = mean - leakage, relative:

    - runs: s/sqrt(runs) · mean/n, s pooled over the repeated lifts or the stated repeatability,
      whichever is larger;
    - resolution: division/sqrt(12)/n, which repeats do not lessen;
    - calibration, metering element: as stated, on all lifts alike;
    - calibration points: each independent error of the fit at the flow of each lift;
    - test pressure: the power of the pressure that the ideal flux varies with there;
    - lift setting: slope of the curve over the area, one zero for the whole test;
    - leakage: over n, one error for the whole test;
    - bench on the day: as stated, on all lifts alike;
    - air density: the power of it that the area varies with, at the same ratio of pressures.

    Source: JCGM 100:2008, 5.1 and F.2.2.1 (resolution).
    """
    stated = test.uncertainty
    runs = run_statistics(test.restated_runs)
    net = runs.mean - test.leakage * test.leakage_scale
    more = np.array([(more_runs or {}).get(at, 0) for at in range(len(lifts))])
    scatter = pooled_scatter(test, runs, int(more.sum()))
    counts = runs.counts + more
    division = None if test.divisions is None else np.asarray(test.divisions) / net
    if steepness is None:
        steepness = LiftCurve(lifts, areas).slope(lifts) / areas
    every = np.ones(len(lifts))
    leak = None if stated.leakage is None else stated.leakage * test.leakage_scale
    systematic = {
        Input.CALIBRATION: _times(_calibration(test), every / COVERAGE_FACTOR),
        Input.ELEMENT: element_share(stated.numbers()) * every,
        Input.PRESSURE: _times(stated.pressure, -_pressure_exponents(test)),
        Input.LIFT: _times(stated.lift, steepness),
        Input.LEAKAGE: _times(leak, -1.0 / net),
        Input.DAY: (stated.day or 0.0) * every,
        Input.DENSITY: _times(stated.density if test.density_exponent else 0.0,
                              test.density_exponent * every),
    }  # fmt: skip
    relative = {name: effect for name, effect in systematic.items() if effect is not None}
    if test.fitted is not None:
        relative[Input.POINTS] = np.asarray(test.fitted.errors)
    if scatter.is_known:
        relative[Input.RUNS] = scatter.relative / np.sqrt(counts) * runs.mean / net
    if division is not None and division.any():
        relative[Input.RESOLUTION] = division / sqrt(12.0)
    alone = _Alone(test, id(test))
    owners: dict[Input, Hashable] = dict.fromkeys(Input, alone)
    owners[Input.CALIBRATION] = test.calibration_key or alone
    if test.fitted is not None and test.calibration_key:
        owners[Input.POINTS] = (*test.calibration_key, test.fitted.key)
    owners[Input.ELEMENT] = test.element_key or alone
    owners[Input.PRESSURE] = test.gauge or alone
    owners[Input.DAY] = test.day_key or alone
    unknown = frozenset(name for name, effect in systematic.items() if effect is None)
    return AreaErrors(relative, owners, scatter, unknown, division)


def _calibration(test: FlowTest) -> float | None:
    """The calibration's own expanded uncertainty; of one by points what they share, which need not
    be stated."""
    stated = test.uncertainty.calibration
    return 0.0 if stated is None and test.fitted is not None else stated


def pooled_scatter(test: FlowTest, runs: RunStatistics, more: int = 0) -> Scatter:
    r"""Relative scatter of one run, from all repeated lifts, or as stated where that is larger.

    .. math:: s^2 = \sum \left(\frac{x - \bar x}{\bar x}\right)^2 / \sum (n - 1)
    """
    freedom = float((runs.counts - 1).sum())
    # The squares of the standard error are those of the deviations over n (n - 1).
    variances = runs.counts * (runs.counts - 1) * (runs.standard_error / runs.mean) ** 2
    pooled = sqrt(float(variances.sum()) / freedom) if freedom else 0.0
    stated = test.uncertainty.reading_exponent * (test.uncertainty.repeatability or 0.0)
    return Scatter(stated, inf) if stated > pooled else Scatter(pooled, freedom + more or inf)


def _pressure_exponents(test: FlowTest) -> Floats:
    """The flux's power of the pressure at each lift, the mean over runs at pressures of their
    own."""
    if test.run_pressures is None:
        return np.full(len(test.lifts), flux_exponent(test, test.test_pressure))
    return np.array(
        [np.mean(flux_exponent(test, np.asarray(pressures))) for pressures in test.run_pressures]
    )


def _times(stated: float | None, effect: Floats) -> Floats | None:
    """An uncertainty times what it does; None where it is unknown."""
    return None if stated is None else stated * effect
