"""Restating a flow, its velocity and its kinetic energy."""

from __future__ import annotations

import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.flow import (
    at_reference_pressure,
    corrected_flow,
    kinetic_energy_flux,
    mean_velocity,
)
from shopflow.calc.gas import bernoulli_velocity, ideal_mass_flux

CFM = 0.3048**3 / 60
DENSITY = 101325 / (287.05 * 293.15)
DP = 28 * 249.08891


@pytest.mark.source("Square roots of the pressures, by hand")
@pytest.mark.parametrize(("inches", "growth"), [(10, 1.673320), (15, 1.366260), (25, 1.058301)])
def test_flow_is_restated_by_the_square_root(inches: int, growth: float) -> None:
    """Square roots of 28 over the test pressure, by hand; a convention of the trade."""
    assert at_reference_pressure(1.0, inches, 28.0) == pytest.approx(growth, abs=5e-7)


@pytest.mark.source("Definition of kinetic energy, by hand")
def test_200_cfm_through_1200_mm2() -> None:
    """By hand: 78.6579 m/s, 0.1136561 kg/s, 351.599 W, 3093.53 J/kg."""
    flow = 200 * CFM
    velocity = mean_velocity(flow, 1200e-6)
    assert velocity == pytest.approx(78.6579, rel=1e-6)
    assert DENSITY * flow == pytest.approx(0.1136561, rel=1e-6)
    power = kinetic_energy_flux(DENSITY, flow, velocity)
    assert power == pytest.approx(351.599, rel=2e-6)
    assert power / (DENSITY * flow) == pytest.approx(3093.53, rel=2e-6)


@pytest.mark.source("Bernoulli's equation, by hand")
def test_kinetic_energy_of_bernoulli_s_jet_is_flow_times_pressure() -> None:
    """1000 mm2 drawing at 28 inH2O: 750.670 W, by hand; ½ρqv² = qΔp (Bernoulli)."""
    velocity = float(bernoulli_velocity(DP, DENSITY))
    flow = 1e-3 * velocity
    assert kinetic_energy_flux(DENSITY, flow, velocity) == pytest.approx(flow * DP, rel=1e-12)
    assert flow * DP == pytest.approx(750.670, rel=1e-5)


@pytest.mark.source("common practice, no source")
def test_the_trade_s_146_cfm_per_square_inch() -> None:
    """Common practice, no source: 146 at 28 inH2O. Bernoulli has 147.30 at 0.075 lb/ft3 and
    145.87 at 1.225 kg/m3, isentropic flow 141.60 (by hand): within 3.2 % of it."""
    pound, inch2 = 0.075 * 0.45359237 / 0.3048**3, 0.0254**2
    isentropic = float(ideal_mass_flux(101325.0, DENSITY, 101325.0 - DP)) / DENSITY
    rows = [
        float(bernoulli_velocity(DP, pound)) * inch2 / CFM,
        float(bernoulli_velocity(DP, 1.225)) * inch2 / CFM,
        isentropic * inch2 / CFM,
    ]
    assert rows == pytest.approx([147.30, 145.87, 141.60], abs=0.006)
    assert rows == pytest.approx([146] * 3, rel=0.032)


@given(st.floats(1e-4, 1.0), st.floats(1.0, 1e5), st.floats(1.0, 1e5), st.floats(1.0, 1e5))
def test_restating_twice_is_restating_once(
    flow: float, one: float, two: float, three: float
) -> None:
    twice = at_reference_pressure(at_reference_pressure(flow, one, two), two, three)
    assert twice == pytest.approx(float(at_reference_pressure(flow, one, three)), rel=1e-12)


@given(st.floats(0.01, 1.0), st.floats(0.0, 0.009), st.floats(0.5, 2.0))
def test_leakage_comes_off_before_the_factor(flow: float, leakage: float, factor: float) -> None:
    answer = corrected_flow(flow, leakage, factor)
    assert answer == pytest.approx(factor * flow - factor * leakage, rel=1e-12)
    assert math.isclose(corrected_flow(flow, 0.0, 1.0), flow)
