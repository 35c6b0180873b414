"""A whole session reduced: by hand, and what belongs together."""

from __future__ import annotations

import dataclasses
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.areas import Valve
from shopflow.calc.reduction import reduce
from shopflow.calc.uncertainty import Uncertainties
from tests.unit.calc.sessions import CFM, INCH_OF_WATER, flow_test, one_lift

LIKE = 1e-12
"""Conversion of units rounds a handful of times in double precision."""


@pytest.mark.source("Isentropic relations of NACA Report 1135, by hand")
def test_an_ideal_nozzle_has_a_coefficient_of_one() -> None:
    """1000 mm2 at Cd 1, 28 inH2O, dry air of 20 °C.

    219.487 and 227.496 cfm are for an ideal gas of R 287.05; the real one is 0.04 % denser,
    which changes flow by half of that.
    """
    head = math.sqrt(4 * 1000e-6 / math.pi)
    for side, flow in (("intake", 219.487), ("exhaust", 227.496)):
        test = one_lift(flow * CFM, Uncertainties(), side=side, valve=Valve(head), port_area=None)
        assert reduce(test).points[0].cd_head == pytest.approx(1.0, rel=3e-4)


@pytest.mark.source("Definition of kinetic energy, by hand")
def test_kinetic_energy_and_velocity_by_hand() -> None:
    """200 cfm through 1200 mm2: 78.6579 m/s; 351.599 W at 1.204118 kg/m3."""
    point = reduce(one_lift(200 * CFM, Uncertainties(), port_area=1200e-6)).points[0]
    assert point.velocity == pytest.approx(78.6579, abs=5.1e-5)
    assert point.kinetic_energy_flux == pytest.approx(351.599 * 1.204557 / 1.204118, rel=1e-5)


def test_coefficients_on_different_areas_belong_together() -> None:
    """Head-area coefficient = curtain coefficient times 4 L/D, by their definitions."""
    for point in reduce(flow_test()).points:
        assert point.cd_head == pytest.approx(
            point.cd_curtain * 4 * point.lift_over_diameter, rel=LIKE
        )


@pytest.mark.source("Heywood; Annand and Roe; Taylor; Blair (ranges from memory)")
def test_published_bounds_hold_for_a_plausible_port() -> None:
    """On curtain area 0.45 to 0.7 (Heywood, Annand and Roe, Taylor, Blair; from memory)."""
    points = reduce(flow_test()).points
    assert all(0.4 < point.cd_curtain < 0.75 for point in points)
    assert all(point.cd_least_area is not None and point.cd_least_area < 1 for point in points)


def test_flow_is_quoted_at_the_reference_and_mass_flow_at_the_test_pressure() -> None:
    reduction = reduce(flow_test())
    ratio = reduction.flow / (reduction.mass_flow / reduction.air_density)
    assert ratio == pytest.approx([math.sqrt(28 / 25)] * len(ratio), rel=LIKE)


def test_what_is_absent_is_none() -> None:
    point = reduce(flow_test(valve=Valve(44e-3), port_area=None)).points[0]
    assert (point.cd_least_area, point.velocity, point.kinetic_energy_flux) == (None, None, None)


def test_figures_beyond_what_a_number_holds_are_refused() -> None:
    with pytest.raises(ValueError, match="too large or too small"):
        reduce(flow_test(calibration_factor=1e200))


@given(st.integers(2, 5))
def test_valves_that_open_together_share_the_flow(count: int) -> None:
    reduction = reduce(flow_test())
    many = reduce(flow_test(valve=dataclasses.replace(flow_test().valve, count=count)))
    for name in ("cd_curtain", "cd_head", "cd_least_area"):
        assert getattr(many, name) * count == pytest.approx(getattr(reduction, name), rel=LIKE)


def test_coefficients_are_continuous_where_the_flow_chokes() -> None:
    edge = 101325.0 * (1 - (2 / 2.4) ** 3.5)
    below, above = (
        reduce(flow_test(test_pressure=edge * (1 + nudge))).effective_area
        for nudge in (-1e-9, 1e-9)
    )
    assert below == pytest.approx(above, rel=1e-8)


def test_a_test_pressure_beyond_incompressible_is_still_reduced() -> None:
    assert reduce(flow_test(test_pressure=300 * INCH_OF_WATER)).points


@pytest.mark.source("Definition of kinetic energy, by hand: tested at 25 inH2O, stated at 28")
def test_kinetic_energy_is_of_the_flow_at_the_pressure_it_is_stated_at() -> None:
    """200 cfm at 25 inH2O is 211.660 cfm at 28: 83.2437 m/s, and 416.90 W."""
    test = one_lift(200 * CFM, Uncertainties(), port_area=1200e-6)
    lower = dataclasses.replace(test, test_pressure=25 * 249.08891)
    point = reduce(lower).points[0]
    assert point.velocity == pytest.approx(78.6579 * math.sqrt(28 / 25), rel=1e-6)
    watts = 351.599 * (28 / 25) ** 1.5 * 1.204557 / 1.204118
    assert point.kinetic_energy_flux == pytest.approx(watts, rel=1e-5)
