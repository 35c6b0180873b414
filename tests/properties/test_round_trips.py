"""There and back again is where one began."""

from __future__ import annotations

from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow import testfile
from shopflow.calc.flow import at_reference_pressure
from shopflow.calc.gas import mach_number
from shopflow.calc.machindex import speed_at_index
from shopflow.calc.reduction import reduce
from shopflow.calc.springs import load_at_lift, spring_rate
from tests.properties.typed import american, in_si


@given(american(), st.booleans())
def test_a_session_written_and_read_again_is_the_same_to_the_last_digit(
    content: dict[str, Any], metric: bool
) -> None:
    document = testfile.check(in_si(content) if metric else content)
    again = testfile.loads(testfile.dumps(document))
    assert again == document
    assert reduce(again.flow_test()).points == reduce(document.flow_test()).points


@given(st.floats(1e-4, 1.0), st.floats(100.0, 2e4), st.floats(100.0, 2e4))
def test_a_flow_restated_and_restated_back(flow: float, here: float, there: float) -> None:
    away = at_reference_pressure(flow, here, there)
    assert at_reference_pressure(away, there, here) == pytest.approx(flow, rel=1e-12)


@given(st.floats(0.0, 1.0), st.floats(1.2, 1.66))
def test_a_mach_number_from_its_own_pressure_ratio(mach: float, gamma: float) -> None:
    """p/p0 = (1 + (γ − 1)/2 M²)^(−γ/(γ − 1)): NACA Report 1135, equation 44."""
    ratio = (1.0 + (gamma - 1.0) / 2.0 * mach**2) ** (-gamma / (gamma - 1.0))
    assert mach_number(ratio, gamma) == pytest.approx(mach, abs=1e-7)


@given(st.floats(0.1, 2.0), st.floats(100.0, 9000.0), st.floats(0.1, 2.0))
def test_a_speed_at_an_index_and_back(wanted: float, speed: float, index: float) -> None:
    there = speed_at_index(wanted, speed, index)
    assert speed_at_index(index, there, wanted) == pytest.approx(speed, rel=1e-12)


@given(st.floats(10.0, 900.0), st.floats(1e3, 1e5), st.floats(1e-3, 0.02))
def test_a_spring_s_rate_from_the_load_it_gives(seat: float, rate: float, lift: float) -> None:
    opened = load_at_lift(seat, rate, lift)
    assert spring_rate(seat, opened, lift) == pytest.approx(rate, rel=1e-9)
