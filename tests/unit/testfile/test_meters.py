"""Sessions of benches that read a pressure difference, or cannot hold their test pressure."""

from __future__ import annotations

from math import sqrt

import fluids.flow_meter as fluids
import pytest

from shopflow import testfile
from shopflow.calc.air import density
from shopflow.calc.metering import air_viscosity
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.sanity import warnings
from shopflow.errors import ValidationError
from tests.cli.sessions import EXTENDED, INTAKE_US, METERED, OWN_ELEMENT, STRAYING

CFM = 0.3048**3 / 60.0
INCH_OF_WATER = 249.08891


def reduced(text: str) -> Reduction:
    return reduce(testfile.loads(text).flow_test())


def iso_5167(drop: float) -> float:
    """Mass flow of the METERED plate by the fluids library, kg/s."""
    room = float(density(101325.0, 293.15, 0.4))
    upstream = room * 94350.0 / 101325.0 * 293.15 / 297.15
    return float(
        fluids.differential_pressure_meter_solver(
            D=0.1, D2=0.06, P1=94350.0, P2=94350.0 - drop, rho=upstream,
            mu=float(air_viscosity(297.15)), k=1.4,
            meter_type=fluids.ISO_5167_ORIFICE, taps=fluids.ORIFICE_CORNER_TAPS,
        )
    )  # fmt: skip


def test_a_pressure_difference_becomes_a_flow_by_iso_5167():
    reduction = reduced(METERED)
    room, leak = float(density(101325.0, 293.15, 0.4)), iso_5167(9.0)
    first = (iso_5167(420.0) + iso_5167(424.0)) / 2.0 - leak
    assert reduction.mass_flow.tolist() == pytest.approx([first, iso_5167(1500.0) - leak], rel=1e-9)
    assert reduction.flow[1] == pytest.approx((iso_5167(1500.0) - leak) / room, rel=1e-9)


def test_repeatability_of_a_pressure_difference_counts_half():
    """Flow goes with its root: 1 % of the difference is half a percent, over the net flow."""
    reduction = reduced(METERED)
    share = iso_5167(1500.0) / (iso_5167(1500.0) - iso_5167(9.0))
    assert reduction.budget.runs[1] == pytest.approx(0.005 * share, rel=1e-9)


def test_a_coefficient_of_its_own():
    """C A sqrt(2 Δp ρ) with the air at the meter, by hand."""
    room = float(density(101325.0, 293.15, 0.4))
    upstream = room * 94350.0 / 101325.0 * 293.15 / 297.15
    passed = 0.612 * 28.3e-4 * (sqrt(2 * 1500.0 * upstream) - sqrt(2 * 9.0 * upstream))
    assert reduced(OWN_ELEMENT).mass_flow[1] == pytest.approx(passed, rel=1e-12)


def test_runs_and_leakage_at_pressures_of_their_own():
    """By hand: each run and the leakage to 28 inH2O by the root; warm air at a volume meter."""
    air = 293.15 / 308.15
    leak = 0.9 * sqrt(28.0 / 20.0)
    first = (60.0 + 61.0 * sqrt(28.0 / 28.2)) / 2.0 - leak
    second = 121.5 * sqrt(28.0 / 26.1) - leak
    reduction = reduced(STRAYING)
    assert reduction.flow.tolist() == pytest.approx(
        [first * air * CFM, second * air * CFM], rel=1e-9
    )


def test_the_effective_area_goes_by_each_runs_own_pressure():
    """Isentropic flow at 26.1 inH2O, by the formula of Heywood's appendix C written out."""
    barometer = 29.92 * 3386.389
    rho, upstream = float(density(barometer, 293.15, 0.0)), barometer + 26.1 * INCH_OF_WATER
    ratio = barometer / upstream
    flux = sqrt(
        7.0 * upstream * rho * upstream / barometer * (ratio ** (2 / 1.4) - ratio ** (2.4 / 1.4))
    )
    leak = 0.9 * sqrt(26.1 / 20.0)
    passed = rho * 293.15 / 308.15 * (121.5 - leak) * CFM
    assert reduced(STRAYING).effective_area[1] == pytest.approx(passed / flux, rel=1e-9)


def test_runs_all_at_the_test_pressure_change_nothing():
    rows = "[[25, 25], [25], [25, 25, 25], [25, 25], [25], [25, 25]]"
    reduction = reduced(f'{INTAKE_US}pressure_unit = "inH2O"\npressure = {rows}\n')
    plain = reduced(INTAKE_US)
    assert reduction.flow.tolist() == pytest.approx(plain.flow.tolist(), rel=1e-14)
    assert reduction.effective_area.tolist() == pytest.approx(
        plain.effective_area.tolist(), rel=1e-12
    )


@pytest.mark.parametrize("name", EXTENDED)
def test_they_read_back_as_written(name: str):
    document = testfile.loads(EXTENDED[name])
    assert testfile.loads(testfile.dumps(document)) == document


def test_a_pressure_far_off_and_an_element_outside_its_standard_are_doubted():
    strayed = STRAYING.replace("[26.1]", "[21.0]")
    assert any("25% off the test pressure" in doubt.text for doubt in warnings(reduced(strayed)))
    (doubt,) = (doubt for doubt in warnings(reduced(strayed)) if "off the test" in doubt.text)
    assert len(doubt.places) == 1
    small = METERED.replace("100 mm", "75 mm")
    assert any("ratio, 0.800" in doubt.text for doubt in warnings(reduced(small)))


@pytest.mark.parametrize(
    ("text", "old", "new", "key", "words"),
    [
        (METERED, 'element = "orifice plate, corner taps"\n', "", "bench.element", "missing"),
        (METERED, "corner taps", "corner tap", "bench.element", "did you mean"),
        (METERED, 'pipe_diameter = "100 mm"\n', "", "bench.pipe_diameter", "missing"),
        (METERED, '"100 mm"', '"60 mm"', "bench.element_diameter", "not smaller than the pipe"),
        (METERED, 'meter_pressure = "94.35 kPa"\n', "", "bench.meter_pressure", "missing"),
        (METERED, '"94.35 kPa"', '"1.2 kPa"', "readings.flow[2]", "not below the pressure"),
        (METERED, 'flow_unit = "Pa"', 'flow_unit = "cfm"', "readings.flow_unit", "does not go"),
        (METERED, '"9 Pa"', '"2 %"', "bench.leakage", "in percent only"),
        (METERED, '"9 Pa"', '"500 Pa"', "readings.flow[1]", "not above the leakage"),
        (METERED, '"pressure difference"', '"volume flow"', "bench.element", "only with"),
        (METERED, '[uncertainty]', 'element_area = "3 cm2"\n[uncertainty]', "bench.element_area",
         "not with element"),
        (METERED, '[uncertainty]', 'meter = "volume"\n[uncertainty]', "bench.meter", "not with"),
        (OWN_ELEMENT, "element_coefficient = 0.6120\n", "", "bench.element_coefficient", "missing"),
        (OWN_ELEMENT, "0.6120", "-0.6", "bench.element_coefficient", "not above 0"),
        (STRAYING, 'meter = "volume"\n', "", "bench.meter", "missing"),
        (STRAYING, 'meter_temperature = "95 degF"\n', "", "bench.meter_temperature", "missing"),
        (STRAYING, '"volume"', '"volumes"', "bench.meter", "did you mean"),
        (STRAYING, "[26.1]", "[0]", "readings.pressure[2]", "not above 0"),
        (STRAYING, "[26.1]", "[26.1, 27]", "readings.pressure[2]", "2 pressures for 1 runs"),
        (STRAYING, "[[28.0, 28.20], [26.1]]", "[[28.0, 28.20]]", "readings.pressure", "1 rows"),
        (STRAYING, 'pressure_unit = "inH2O"\n', "", "readings.pressure_unit", "missing"),
        (STRAYING, "pressure = [[28.0, 28.20], [26.1]]\n", "", "readings.pressure", "missing"),
        (STRAYING, "pressure = 26.0\n", "", "excluded[1]", "'pressure' is missing"),
        (STRAYING, '"0.9 cfm"', '"0.9 Pa"', "bench.leakage", "as a pressure only"),
        (STRAYING, "[[60.0, 61]", "[[60.0, 1.06]", "readings.flow[1]", "not above the leakage"),
        (INTAKE_US, 'leakage = "0.8 cfm"', 'leakage = "0.8 cfm"\nleakage_pressure = "15 psi"',
         "bench.leakage_pressure", "below the barometer"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_refused_at_its_key(text, old, new, key, words):
    assert old in text
    with pytest.raises(ValidationError) as caught:
        testfile.loads(text.replace(old, new, 1))
    by_name = {fault.key: fault.message for fault in caught.value.faults}
    assert key in by_name
    assert words in by_name[key]
