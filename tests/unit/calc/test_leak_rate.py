"""Leak of a closed volume, against a regulation's worked example and a table of units."""

from __future__ import annotations

import pytest
from scipy.constants import R

from shopflow.calc.leak_rate import leak_flow


@pytest.mark.source("40 CFR 1065.644, example of the vacuum-decay leak rate")
def test_a_vacuum_that_decays_leaks_as_the_regulation_calculates_it():
    # 2.0000 L, 25.300 to 50.600 kPa at 293.15 K in 70 s: 0.00030 mol/s.
    flow = leak_flow(0.002, 50600.0 - 25300.0, 70.0)
    assert 101325.0 * flow / (R * 293.15) == pytest.approx(0.00030, abs=0.000005)


@pytest.mark.source("ISO 80000-4:2019 units; 1 mbar L/s is 59.2 cm3/min at 1013 mbar, leak tables")
def test_a_leak_of_one_mbar_litre_a_second_is_59_cubic_centimetres_a_minute():
    assert leak_flow(0.001, 100.0, 1.0) * 6e7 == pytest.approx(59.2, abs=0.05)


@pytest.mark.parametrize("values", [(0.0, 1.0, 1.0), (1.0, 1.0, 0.0), (1.0, -1.0, 1.0)])
def test_a_leak_without_volume_or_time_or_with_a_rise_is_refused(values: tuple[float, ...]):
    with pytest.raises(ValueError, match="above 0"):
        leak_flow(*values)


def test_no_drop_is_no_leak_and_the_leak_goes_with_the_volume():
    assert leak_flow(0.002, 0.0, 60.0) == 0.0
    assert leak_flow(0.004, 500.0, 60.0) == 2 * leak_flow(0.002, 500.0, 60.0)
