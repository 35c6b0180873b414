"""Scale of a bench, its division, and uncertainties that are not stated."""

from __future__ import annotations

from math import sqrt

import pytest

from shopflow import testfile
from shopflow.calc.air import density
from shopflow.calc.estimates import Input
from shopflow.calc.reduction import Reduction, reduce
from shopflow.calc.sanity import warnings
from tests.cli.sessions import INTAKE_US, METERED, PERCENT, RESTRICTION, RESTRICTION_HIGH

CFM = 0.3048**3 / 60.0
SCALE_UNKNOWN = "the density that the restriction's scale is marked for is not stated"


def reduced(text: str) -> Reduction:
    return reduce(testfile.loads(text).flow_test())


def test_a_restriction_s_scale_shows_the_root_of_a_pressure_difference() -> None:
    """By hand: scale x sqrt(scale density x density at the meter) / room density."""
    room = float(density(29.41 * 3386.389, (71.5 + 459.67) / 1.8, 0.48))
    answer = reduced(RESTRICTION).flow_as_tested[1]
    assert answer == pytest.approx(1.013 * (47.8 - 0.7) * sqrt(1.2 * room) / room * CFM, rel=1e-9)


def test_air_at_the_meter_counts_in_a_restriction_s_flow() -> None:
    warm = RESTRICTION.replace("[bench]", '[bench]\nmeter_temperature = "95 degF"')
    ratio = reduced(warm).flow / reduced(RESTRICTION).flow
    kelvin = (71.5 + 459.67) / (95.0 + 459.67)
    assert ratio.tolist() == pytest.approx([sqrt(kelvin)] * 6, rel=1e-9)


def test_a_scale_may_be_marked_in_percent_of_a_range() -> None:
    marked = PERCENT.replace(
        "[bench]", '[bench]\nmeter = "restriction"\nscale_density = "1.2 kg/m3"'
    )
    room = reduced(PERCENT).air_density
    ratio = reduced(marked).flow / reduced(PERCENT).flow
    assert ratio.tolist() == pytest.approx([sqrt(1.2 / room)] * 4, rel=1e-9)


def test_a_mountain_leaves_a_restriction_s_area_as_it_is() -> None:
    """The same readings: room air has gone from the area, but for the ratio of pressures."""
    low, high = reduced(RESTRICTION), reduced(RESTRICTION_HIGH)
    assert (high.effective_area / low.effective_area).tolist() == pytest.approx([1.0] * 6, abs=0.02)
    assert high.area_errors.relative[Input.RUNS].any()


def test_a_scale_that_is_marked_for_unknown_air_is_doubted() -> None:
    unmarked = RESTRICTION.replace('scale_density = "1.2 kg/m3"', 'meter_temperature = "80 degF"')
    assert any(doubt.text.startswith(SCALE_UNKNOWN) for doubt in warnings(reduced(unmarked)))
    assert not any(doubt.text.startswith(SCALE_UNKNOWN) for doubt in warnings(reduced(RESTRICTION)))


def test_absent_is_unknown_and_nothing_typed_is_stated() -> None:
    bare = INTAKE_US.partition("[uncertainty]")[0] + "[readings]" + INTAKE_US.partition(
        "[readings]"
    )[2]  # fmt: skip
    document = testfile.loads(bare)
    assert document.u_calibration is document.u_lift is document.u_resolution is None
    assert document.flow_test().uncertainty.calibration is None
    assert "[uncertainty]" not in testfile.dumps(document)
    typed = bare.replace("[readings]", '[uncertainty]\ncalibration = "0 %"\n[readings]')
    stated = testfile.loads(typed)
    assert stated.flow_test().uncertainty.calibration == 0.0
    assert 'calibration = "0 %"' in testfile.dumps(stated)


def test_a_division_of_a_pressure_difference_is_worth_less_at_a_larger_reading() -> None:
    with_division = METERED.replace("[uncertainty]", '[uncertainty]\nresolution = "10 Pa"')
    small, large = testfile.loads(with_division).flow_test().divisions or (0.0, 0.0)
    # Flow goes with the root, dq/dx = q/2x, but for the air expanding: a percent or so.
    assert small / large == pytest.approx(sqrt(1500.0 / 422.0), rel=0.02)


def test_a_gauge_and_an_element_are_known_by_name() -> None:
    named = METERED.replace("[bench]", '[bench]\nname = "east"\ngauge_id = "P-3"')
    first, second = (testfile.loads(named).flow_test() for _ in range(2))
    assert first.gauge == "P-3"
    assert first.element_key == second.element_key is not None
    other = testfile.loads(named.replace('"60.0 mm"', '"61.0 mm"')).flow_test()
    assert other.element_key != first.element_key
    assert testfile.loads(METERED).flow_test().element_key is None


def test_the_air_at_a_pressure_difference_leaves_the_area_as_it_is() -> None:
    assert testfile.loads(METERED).flow_test().density_exponent == 0.0
    assert testfile.loads(INTAKE_US).flow_test().density_exponent == 0.5


def test_pressures_may_be_typed_in_hpa() -> None:
    by_hpa = INTAKE_US.replace("29.41 inHg", "995.9 hPa")
    by_mbar = INTAKE_US.replace("29.41 inHg", "995.9 mbar")
    assert reduced(by_hpa).points == reduced(by_mbar).points


THIN = RESTRICTION.replace('scale_density = "1.2 kg/m3"', 'meter_temperature = "71.5 degF"')


def test_a_scale_marked_for_unknown_air_says_what_it_may_cost_in_thin_air() -> None:
    """701 hPa at 20 °C: 0.83 kg/m3 by an ideal gas, 31 % lighter than 1.204, sqrt(1.204/0.83)."""
    air = THIN.replace('"29.41 inHg"', '"701 hPa"').replace('"71.5 degF"', '"20 degC"')
    texts = [doubt.text for doubt in warnings(reduced(air))]
    (answer,) = [text for text in texts if text.startswith(SCALE_UNKNOWN)]
    assert "31." in answer
    assert "lighter than standard air (1.204 kg/m3)" in answer
    assert "every flow is 20." in answer
    usual = air.replace('"701 hPa"', '"1015 hPa"')
    texts = [doubt.text for doubt in warnings(reduced(usual))]
    assert not any("standard air" in text for text in texts)


def test_a_barometer_is_typed_in_hpa_and_doubted_by_the_altitude() -> None:
    typed = RESTRICTION.replace('"29.41 inHg"', '"701 hPa"\naltitude = "9842 ft"')
    document = testfile.loads(typed)
    assert document.barometer.si == pytest.approx(70_100.0)
    assert document.flow_test().altitude == pytest.approx(2999.8, abs=0.1)
    assert not any("altitude" in doubt.text for doubt in warnings(reduced(typed)))
    sea_level = typed.replace('"701 hPa"', '"1013 hPa"')
    assert any("corrected to sea level" in doubt.text for doubt in warnings(reduced(sea_level)))
