"""Runs and leakage read at pressures of their own, and a meter whose air is not the room's."""

from __future__ import annotations

import math
from typing import Any

import numpy as np
import pytest

from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.sanity import warnings
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test

RUNS = (150.0, 136.0)
PRESSURES = (25.0, 20.0)
"""One lift read twice, in cfm at inches of water; the session is at 28."""


def session(**changes: Any) -> FlowTest:
    settings: dict[str, Any] = {
        "lifts": (8e-3,),
        "runs": (tuple(run * CFM for run in RUNS),),
        "run_pressures": (tuple(inches * INCH_OF_WATER for inches in PRESSURES),),
        "test_pressure": 28 * INCH_OF_WATER,
        "leakage": 2.0 * CFM,
        "leakage_pressure": 10 * INCH_OF_WATER,
        "calibration_factor": 1.02,
    }
    return flow_test(**(settings | changes))


def isentropic(reduction: Reduction, inches: float) -> float:
    """Ideal mass flux of an intake at a pressure, by Heywood (1988), appendix C (from memory)."""
    p, rho = reduction.test.barometer, reduction.air_density
    r = 1 - inches * INCH_OF_WATER / p
    return math.sqrt(7 * p * rho * (r ** (2 / 1.4) - r ** (2.4 / 1.4)))


@pytest.mark.source("Square roots of the pressures, by hand: runs at 25 and 20 inH2O stated at 28")
def test_runs_at_their_own_pressures_are_restated_before_they_are_averaged() -> None:
    restated = [run * math.sqrt(28 / at) for run, at in zip(RUNS, PRESSURES, strict=True)]
    expected = 1.02 * (sum(restated) / 2 - 2.0 * math.sqrt(28 / 10))
    reduction = reduce(session())
    assert reduction.flow[0] / CFM == pytest.approx(expected, rel=1e-12)
    apart = abs(restated[0] - restated[1]) / 2
    by_runs = apart / (sum(restated) / 2 - 2.0 * math.sqrt(2.8))
    assert reduction.budget.runs[0] == pytest.approx(by_runs, rel=1e-12)


@pytest.mark.source("Isentropic relations at each run's own pressure, by hand")
def test_each_run_is_held_against_the_ideal_at_its_own_pressure() -> None:
    reduction = reduce(session())
    areas = [
        reduction.air_density
        * 1.02
        * (run - 2.0 * math.sqrt(at / 10))
        * CFM
        / isentropic(reduction, at)
        for run, at in zip(RUNS, PRESSURES, strict=True)
    ]
    assert reduction.effective_area[0] == pytest.approx(sum(areas) / 2, rel=1e-12)
    assert reduction.mass_flow[0] == pytest.approx(
        reduction.effective_area[0] * isentropic(reduction, 28), rel=1e-12
    )


def test_without_pressures_of_their_own_they_are_at_the_session_s() -> None:
    alone = reduce(session(run_pressures=None, leakage_pressure=None))
    at_test = reduce(
        session(run_pressures=((28 * INCH_OF_WATER,) * 2,), leakage_pressure=28 * INCH_OF_WATER)
    )
    assert at_test.flow == pytest.approx(alone.flow, rel=1e-14)
    assert at_test.effective_area == pytest.approx(alone.effective_area, rel=1e-14)


@pytest.mark.parametrize("pressures", [((7e3,),), ((7e3, 7e3), (7e3, 7e3))], ids=["run", "lift"])
def test_a_pressure_too_few_or_too_many_is_refused(
    pressures: tuple[tuple[float, ...], ...],
) -> None:
    with pytest.raises(ValueError, match="argument"):
        reduce(session(run_pressures=pressures))


def test_leakage_is_restated_where_the_runs_are_not() -> None:
    reduction = reduce(session(run_pressures=None))
    expected = 1.02 * (sum(RUNS) / 2 - 2.0 * math.sqrt(28 / 10))
    assert reduction.flow[0] / CFM == pytest.approx(expected, rel=1e-12)


def test_the_leakage_of_single_pressures_is_at_the_test_pressure_where_none_is_named() -> None:
    reduction = reduce(session(leakage_pressure=None))
    areas = [
        reduction.air_density
        * 1.02
        * (run - 2.0 * math.sqrt(at / 28))
        * CFM
        / isentropic(reduction, at)
        for run, at in zip(RUNS, PRESSURES, strict=True)
    ]
    assert reduction.effective_area[0] == pytest.approx(sum(areas) / 2, rel=1e-12)


def test_the_meter_s_air_is_a_factor_on_every_reading() -> None:
    as_read, corrected = (reduce(session(air_correction=factor)) for factor in (1.0, 0.97))
    for name in ("flow", "mass_flow", "effective_area"):
        ratio = getattr(corrected, name) / getattr(as_read, name)
        assert ratio == pytest.approx(0.97, rel=1e-12), name


@pytest.mark.source("JCGM 100:2008, 5.1.6: a reading that goes with the square has half the share")
def test_a_pressure_read_once_counts_half_of_its_repeatability() -> None:
    stated = Uncertainties(repeatability=0.01, reading_exponent=0.5, element=0.003)
    reduction = reduce(flow_test(lifts=(8e-3,), runs=((0.07,),), leakage=0.0, uncertainty=stated))
    assert reduction.budget.runs[0] == pytest.approx(0.005, rel=1e-12)
    assert reduction.budget.element[0] == pytest.approx(0.003, rel=1e-12)
    assert reduction.budget.combined[0] == pytest.approx(math.hypot(0.005, 0.003), rel=1e-12)


def test_repeats_at_two_pressures_that_agree_raise_no_doubt() -> None:
    """150 at 25 and 134.2 at 20 inches are the same flow; 136 is 1.3 % more, 150 a fault."""

    def repeats(second: float) -> list[int | None]:
        answer = warnings(reduce(session(runs=((150 * CFM, second * CFM),))))
        return [doubt.place for doubt in answer if "repeats" in doubt.text]

    assert repeats(134.2) == repeats(136.0) == []
    assert repeats(150.0) == [0]


def test_a_leak_measured_at_little_pressure_is_judged_at_the_session_s() -> None:
    """11 cfm at 10 inches are 18.4 at 28, 12 % of 159.8; read at 28 it would be 7 %."""

    def leaks(pressure: float | None) -> list[str]:
        test = session(leakage=11 * CFM, leakage_pressure=pressure)
        return [doubt.text for doubt in warnings(reduce(test)) if "leakage" in doubt.text]

    assert leaks(None) == []
    assert "the leakage is 12% of this reading" in leaks(10 * INCH_OF_WATER)[0]


def test_the_humidity_of_the_room_thins_its_air() -> None:
    dry, damp = (reduce(session(humidity=humidity)).air_density for humidity in (0.0, 0.6))
    assert damp < 0.9965 * dry


@pytest.mark.parametrize(("temperature", "humidity"), [(500.0, 1.0), (np.inf, 0.0)])
@pytest.mark.filterwarnings("error")
def test_air_that_has_no_density_is_refused_in_words(temperature: float, humidity: float) -> None:
    """At 500 K and one atmosphere no air can be saturated."""
    with pytest.raises(ValueError, match=r"^no air density can be calculated from these air data$"):
        reduce(session(temperature=temperature, humidity=humidity))


@pytest.mark.filterwarnings("error")
def test_figures_beyond_numbers_are_refused_in_words() -> None:
    words = r"^these readings give results too large or too small to calculate with$"
    with pytest.raises(ValueError, match=words):
        reduce(session(calibration_factor=1e200))
    with pytest.raises(ValueError, match=words):
        reduce(session(calibration_factor=1e-200))
