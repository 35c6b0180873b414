"""Exponents over several pressures: closed forms, NumPy and SciPy, and simulated truths."""

from __future__ import annotations

from typing import Any

import numpy as np
import pytest
from scipy import stats

from shopflow.calc.across import flux_exponent, ideal_flux
from shopflow.calc.pressure_exponent import (
    AtPressure,
    Exponent,
    at_pressures,
    exponents,
    fit_power,
)
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test

PRESSURES = np.array([5.0, 10.0, 15.0, 20.0, 28.0, 36.0]) * INCH_OF_WATER
LIFTS = (3e-3, 8e-3)
RHO = 1.2


def at(flows: Any, pressures: Any = PRESSURES, side: str = "intake", **changes: Any) -> Reduction:
    """A test of two lifts with these indicated flows, m3/s, alike at both."""
    settings: dict[str, Any] = {
        "side": side,
        "lifts": LIFTS,
        "runs": (tuple(flows),) * len(LIFTS),
        "run_pressures": (tuple(pressures),) * len(LIFTS),
        "divisions": None,
        "leakage": 0.0,
        "calibration_factor": 1.0,
        "uncertainty": Uncertainties(None, None, None, None),
        "test_pressure": 28 * INCH_OF_WATER,
    }
    return reduce(flow_test(**(settings | changes)))


def fitted(reduction: Reduction) -> Exponent:
    """The exponent at the first lift."""
    return exponents(reduction)[0]


@pytest.mark.source("Bernoulli: incompressible flow goes with the root of the pressure difference")
def test_incompressible_flow_has_an_exponent_of_exactly_one_half() -> None:
    answer = fitted(at(0.001 * np.sqrt(PRESSURES)))
    assert answer.value == pytest.approx(0.5, abs=1e-12)
    assert answer.expanded_uncertainty < 1e-9
    assert answer.agrees_with_half
    assert not answer.agrees_with_isentropic


@pytest.mark.source("Heywood, Internal Combustion Engine Fundamentals (1988), App. C (from memory)")
@pytest.mark.parametrize("side", ["intake", "exhaust"])
def test_an_ideal_nozzle_has_the_isentropic_exponent(side: Any) -> None:
    test = at(0.001 * np.sqrt(PRESSURES), side=side).test
    flux = np.asarray(ideal_flux(test, RHO, PRESSURES))
    answer = fitted(at(1e-3 * flux / RHO, side=side))
    assert answer.value == pytest.approx(answer.isentropic, abs=1e-12)
    assert answer.agrees_with_isentropic
    assert answer.value < 0.5
    # Between the slopes at the lowest and the highest pressure.
    ends = [float(flux_exponent(test, pressure)) for pressure in (PRESSURES[-1], PRESSURES[0])]
    assert ends[0] < answer.value < ends[1]


@pytest.mark.source("NumPy, numpy.polyfit with weights and unscaled covariance; SciPy, stats.t")
def test_the_fit_is_numpy_s_weighted_line_through_the_logarithms() -> None:
    rng = np.random.default_rng(4)
    relative = np.array([0.02, 0.01, 0.006, 0.005, 0.004, 0.004])
    flows = 0.001 * PRESSURES**0.48 * np.exp(2.0 * relative * rng.standard_normal(6))
    answer = fit_power(PRESSURES, flows, relative)
    (slope, _), covariance = np.polyfit(
        np.log(PRESSURES), np.log(flows), 1, w=1.0 / relative, cov=True
    )
    assert answer.exponent == pytest.approx(slope, rel=1e-10)
    # NumPy scales by the scatter over N - 2, which is above what was stated here.
    assert answer.standard_uncertainty == pytest.approx(float(np.sqrt(covariance[0, 0])), rel=1e-10)
    assert answer.freedom == 4


@pytest.mark.source("SciPy, stats.linregress and stats.t")
def test_without_stated_uncertainties_it_is_the_common_line_with_student_s_t() -> None:
    rng = np.random.default_rng(5)
    flows = 0.001 * PRESSURES**0.47 * np.exp(0.004 * rng.standard_normal(6))
    line = stats.linregress(np.log(PRESSURES), np.log(flows))
    answer = fitted(at(flows))
    assert answer.value == pytest.approx(line.slope, rel=1e-10)
    expanded = float(stats.t.ppf(0.975, 4)) * line.stderr
    assert answer.expanded_uncertainty == pytest.approx(expanded, rel=1e-9)


def test_scatter_that_happens_to_be_small_does_not_make_a_line_better_than_stated() -> None:
    settings: dict[str, Any] = {"uncertainty": Uncertainties(None, 0.005, None, None)}
    answer = fitted(at(0.001 * np.sqrt(PRESSURES), **settings))
    x = np.log(PRESSURES)
    least = 0.005 / np.sqrt(np.sum((x - x.mean()) ** 2))
    expanded = float(stats.t.ppf(0.975, 4)) * float(least)
    assert answer.expanded_uncertainty == pytest.approx(expanded, rel=1e-9)


@pytest.mark.parametrize(
    "pressures",
    [PRESSURES[:1].repeat(6), np.linspace(27.0, 29.0, 6) * INCH_OF_WATER, PRESSURES[[0, 5]]],
    ids=["one pressure", "not held", "two runs"],
)
def test_one_pressure_held_badly_or_two_runs_give_no_exponent(pressures: Any) -> None:
    assert exponents(at(0.001 * np.sqrt(pressures), pressures)) == ()


def test_a_test_at_the_test_pressure_alone_has_neither_exponent_nor_map() -> None:
    plain = at(0.001 * np.sqrt(PRESSURES), run_pressures=None)
    assert (exponents(plain), at_pressures(plain)) == ((), ())


@pytest.mark.parametrize("side", ["intake", "exhaust"])
def test_the_map_has_each_lift_at_each_pressure_with_its_ratio(side: Any) -> None:
    pressures = np.concatenate([PRESSURES, PRESSURES * 1.004])
    reduction = at(0.001 * np.sqrt(pressures), pressures, side)
    points = at_pressures(reduction)
    assert len(points) == len(LIFTS) * len(PRESSURES)
    first: AtPressure = points[0]
    barometer = reduction.test.barometer
    expected = (
        1.0 - first.pressure / barometer
        if side == "intake"
        else barometer / (barometer + first.pressure)
    )
    assert first.ratio == pytest.approx(expected, rel=1e-12)
    assert {point.runs for point in points} == {2}
    flux = float(np.asarray(ideal_flux(reduction.test, reduction.air_density, first.pressure)))
    area = reduction.air_density * first.flow / flux
    assert first.area == pytest.approx(area, rel=1e-4)
    assert first.cd_head / first.cd_curtain == pytest.approx(4.0 * first.lift_over_diameter)


@pytest.mark.parametrize(("scatter", "stated"), [(0.004, None), (0.004, 0.004), (0.008, 0.004)])
def test_the_interval_holds_the_truth_in_nineteen_of_twenty_simulated_lifts(
    scatter: float, stated: float | None
) -> None:
    """Readings of a head whose flow goes with a known power, scattered and rounded to the scale."""
    rng, truth, inside = np.random.default_rng(17), 0.463, 0
    division = 0.05 * CFM
    settings: dict[str, Any] = {
        "uncertainty": Uncertainties(None, stated, None, None),
        "divisions": (division,) * len(LIFTS),
    }
    count = 400
    for _ in range(count):
        noise = 1.0 + scatter * rng.standard_normal(len(PRESSURES))
        flows = np.round(0.002 * PRESSURES**truth * noise / division) * division
        answer = fitted(at(flows, **settings))
        inside += abs(answer.value - truth) <= answer.expanded_uncertainty
    assert inside / count >= 0.93
    if stated is None:
        assert inside / count <= 0.99
