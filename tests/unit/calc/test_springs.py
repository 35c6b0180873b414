"""Springs and gas forces by hand."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.springs import (
    coil_bind_room,
    load_at_lift,
    pressure_force,
    seat_load_factor,
    spring_rate,
    wire_rate,
)

PSI = 0.45359237 * 9.80665 / 0.0254**2
LBF = 0.45359237 * 9.80665


# 20 psi, F = p A, by hand: on the head, less the stem, on the mean diameter of the seat.
@pytest.mark.source("F = p A, by hand")
@pytest.mark.parametrize(
    ("diameter", "stem", "newtons"),
    [(44e-3, 0.0, 209.674), (44e-3, 7e-3, 204.367), (42.5e-3, 0.0, 195.622)],
)
def test_boost_on_a_valve(diameter: float, stem: float, newtons: float) -> None:
    assert pressure_force(20 * PSI, diameter, stem) == pytest.approx(newtons, abs=5.1e-4)


@pytest.mark.source("F = p A in pounds, by hand")
def test_boost_on_a_valve_in_pounds() -> None:
    assert pressure_force(20 * PSI, 44e-3) / LBF == pytest.approx(47.1366, abs=5.1e-5)


@pytest.mark.source("Hooke's law, by hand")
def test_rate_from_two_loads() -> None:
    """(900 − 400)/11 N/mm; (240 − 90)/0.550 lbf/in."""
    assert spring_rate(400.0, 900.0, 11e-3) == pytest.approx(45454.5, abs=0.051)
    in_pounds = spring_rate(90 * LBF, 240 * LBF, 0.550 * 0.0254)
    assert in_pounds / (LBF / 0.0254) == pytest.approx(272.727, abs=5.1e-4)
    assert in_pounds == pytest.approx(47761.9, abs=0.051)


@pytest.mark.source("Shigley, Mechanical Engineering Design, springs, by hand")
def test_rate_from_the_wire() -> None:
    """k = G d⁴/(8 D³ N), Shigley, Mechanical Engineering Design."""
    assert wire_rate(79.3e9, 4e-3, 26e-3, 5.0) == pytest.approx(28875.7, abs=0.051)


@given(st.floats(10, 900), st.floats(10, 2000), st.floats(1e-3, 0.02))
def test_the_load_at_lift_undoes_the_rate(seat: float, opened: float, lift: float) -> None:
    rate = spring_rate(seat, opened, lift)
    assert load_at_lift(seat, rate, lift) == pytest.approx(opened, rel=1e-9)


def test_a_spring_that_binds_has_negative_room() -> None:
    assert coil_bind_room(0.040, 0.030, 0.011) == pytest.approx(-0.001)


@pytest.mark.source("statics of a frictionless cone, by hand: N = F ÷ cos α")
def test_a_shallower_seat_wants_more_load_for_the_same_force_normal_to_it() -> None:
    """The force normal to the seat, load over the cosine of its angle, is the same on both."""
    factor = float(seat_load_factor(math.radians(39.0)))
    assert factor == pytest.approx(0.7771460 / 0.7071068, rel=1e-6)
    normal_at_45 = 100.0 / math.cos(math.radians(45.0))
    assert 100.0 * factor / math.cos(math.radians(39.0)) == pytest.approx(normal_at_45)
    assert float(seat_load_factor(math.radians(30.0), math.radians(30.0))) == 1.0
    # Common practice, no source: about 10 lbf more at 39 than at 45 degrees, on about 100.
    assert 100.0 * (factor - 1.0) == pytest.approx(10.0, abs=0.2)
