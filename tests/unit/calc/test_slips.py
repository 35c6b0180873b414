"""Slips of the unit, each pointed out with its likely cause.

The ports are made of a known coefficient (0.55 on the smaller of curtain and head area), so that
only the slip is wrong with them.
"""

from __future__ import annotations

from dataclasses import replace
from math import pi

import pytest

from shopflow.calc.areas import Valve
from shopflow.calc.atmosphere import standard_pressure
from shopflow.calc.flowtest import FlowTest, TypedUnits
from shopflow.calc.reduction import reduce
from shopflow.calc.sanity import warnings
from shopflow.units import from_si, to_si
from tests.unit.calc.sessions import flow_test

DIAMETER = 44e-3
LIFTS = tuple(lift * 1e-3 for lift in (2, 4, 6, 8, 10, 12))
USUAL = TypedUnits("hPa", "inH2O", "cfm", "mm2")


def port(coefficient: float = 0.55, **changes: object) -> FlowTest:
    """A port of one coefficient at 28 inH2O in room air, typed as it should be."""
    area = [min(pi * DIAMETER * lift, pi / 4 * DIAMETER**2) for lift in LIFTS]
    speed = (2 * to_si(28, "inH2O") / 1.204) ** 0.5
    runs = tuple((coefficient * size * speed,) for size in area)
    common = {
        "lifts": LIFTS, "runs": runs, "leakage": 0.0, "calibration_factor": 1.0,
        "test_pressure": to_si(28, "inH2O"), "typed_units": USUAL, "port_area": None,
        "valve": Valve(DIAMETER),
    }  # fmt: skip
    return flow_test(**(common | changes))


def doubts(test: FlowTest) -> str:
    return "\n".join(doubt.text for doubt in warnings(reduce(test)))


def flows_typed_as(test: FlowTest, meant: str, typed: str) -> FlowTest:
    """The flows' numbers in one unit, read in another."""
    scale = to_si(1.0, typed) / to_si(1.0, meant)
    runs = tuple(tuple(flow * scale for flow in row) for row in test.runs)
    return replace(test, runs=runs, typed_units=replace(USUAL, flow=typed))


@pytest.mark.parametrize("coefficient", [0.45, 0.55, 0.65, 0.75])
def test_a_port_typed_as_it_is_raises_no_doubt(coefficient: float) -> None:
    assert doubts(port(coefficient)) == ""
    assert doubts(port(coefficient, altitude=200.0, barometer=99_000.0)) == ""


@pytest.mark.parametrize(
    ("number", "meant", "typed"),
    [
        pytest.param(28, "inH2O", "kPa", id="28 inH2O as kPa"),
        pytest.param(15, "inH2O", "kPa", id="15 inH2O as kPa, which is a pressure benches hold"),
        pytest.param(10, "inH2O", "kPa", id="10 inH2O as kPa"),
        pytest.param(7, "kPa", "inH2O", id="7 kPa as inH2O"),
        pytest.param(100, "hPa", "kPa", id="100 hPa as kPa"),
        pytest.param(28, "inH2O", "Pa", id="28 inH2O as Pa"),
        pytest.param(28, "inH2O", "mmH2O", id="28 inH2O as mmH2O"),
    ],
)
def test_a_test_pressure_in_the_wrong_unit_is_named(number: float, meant: str, typed: str) -> None:
    share = (to_si(number, meant) / to_si(28, "inH2O")) ** 0.5
    runs = tuple(tuple(flow * share for flow in row) for row in port().runs)
    right = port(runs=runs, test_pressure=to_si(number, meant))
    assert "typed as" not in doubts(right)
    wrong = replace(
        right, test_pressure=to_si(number, typed), typed_units=replace(USUAL, test_pressure=typed)
    )
    shown = {"inH2O": "inH₂O", "mmH2O": "mmH₂O"}
    cause = f"{number} {shown.get(meant, meant)} typed as {shown.get(typed, typed)}"
    assert f"a pressure of {cause}" in doubts(wrong)


@pytest.mark.parametrize(("meant", "typed"), [("cfm", "L/s"), ("L/s", "cfm"), ("m3/h", "L/s")])
def test_flows_in_the_wrong_unit_are_named(meant: str, typed: str) -> None:
    cause = f"flows in {meant.replace('3', '³')} typed as {typed}"
    assert cause in doubts(flows_typed_as(port(), meant, typed))


def test_a_coefficient_far_too_low_is_pointed_out_without_a_cause_too() -> None:
    answer = doubts(port(0.05, typed_units=None))
    assert "0.05 in the median of the lifts, far below what poppet valves have" in answer
    assert "typed as" not in answer


@pytest.mark.parametrize(
    ("number", "meant", "typed"),
    [(29.92, "inHg", "kPa"), (1013.0, "hPa", "kPa"), (14.7, "psi", "inHg"), (101.3, "kPa", "inHg")],
)
def test_a_barometer_in_the_wrong_unit_is_named(number: float, meant: str, typed: str) -> None:
    wrong = port(
        side="exhaust", barometer=to_si(number, typed), typed_units=replace(USUAL, barometer=typed)
    )
    assert f"That would fit a barometer of {number:g} {meant} typed as {typed}" in doubts(wrong)


def test_a_port_area_beyond_twice_the_valve_is_pointed_out_with_its_likely_unit() -> None:
    head = pi / 4 * DIAMETER**2
    assert "port area" not in doubts(port(port_area=1.1 * head))
    number = from_si(0.9 * head, "cm2")
    wrong = port(port_area=to_si(number, "in2"), typed_units=replace(USUAL, port_area="in2"))
    assert f"That would fit an area of {number:.6g} cm² typed as in²" in doubts(wrong)
    assert "times the area of the valve heads" in doubts(wrong)


@pytest.mark.source("ISO 2533:1975, table of pressures (1000 m seen, the rest from memory)")
def test_the_standard_atmosphere_is_that_of_iso_2533() -> None:
    """ISO 2533:1975, its table: pressures at heights above sea level."""
    table = {0.0: 101325.0, 500.0: 95461.3, 1000.0: 89876.3, 2000.0: 79501.4, 3000.0: 70121.2}
    for altitude, pressure in table.items():
        assert standard_pressure(altitude) == pytest.approx(pressure, abs=0.1)


@pytest.mark.parametrize("altitude", [600.0, 1609.0, 3000.0])
@pytest.mark.parametrize("weather", [-0.025, 0.0, 0.025])
def test_a_barometer_corrected_to_sea_level_is_caught_at_altitude(
    altitude: float, weather: float
) -> None:
    station = standard_pressure(altitude) * (1.0 + weather)
    assert "altitude" not in doubts(port(barometer=station, altitude=altitude))
    corrected = port(barometer=101325.0 * (1.0 + abs(weather)), altitude=altitude)
    answer = doubts(corrected)
    assert "That would fit a barometer corrected to sea level" in answer
    assert f"does not fit an altitude of {altitude:.0f} m" in answer
    assert "altitude" not in doubts(replace(corrected, altitude=None))


def test_a_barometer_that_fits_neither_altitude_nor_sea_level_has_no_cause_named() -> None:
    answer = doubts(port(barometer=70_000.0, altitude=1600.0))
    assert "check the barometer and the altitude" in answer
