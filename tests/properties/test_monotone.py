"""More of a cause never gives less of its effect, and nothing jumps."""

from __future__ import annotations

import dataclasses

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.air import speed_of_sound
from shopflow.calc.areas import Valve, curtain_area, least_valve_area
from shopflow.calc.compression import compression_ratio
from shopflow.calc.coverage import effective_degrees_of_freedom
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.gas import (
    critical_ratio,
    ideal_mass_flux,
    isentropic_velocity,
    mach_number,
)
from shopflow.calc.reduction import reduce
from shopflow.calc.student import NORMAL_95, factor_95
from shopflow.calc.turbo import turbine_power
from tests.properties.sessions import flow_tests, valves

ROOM, DENSITY = 101325.0, 1.2
gammas = st.floats(1.2, 1.66)


@given(gammas)
def test_more_pressure_difference_draws_more_until_it_chokes_and_then_no_more(gamma: float) -> None:
    ratios = np.linspace(0.999, 0.05, 120)
    flux = ideal_mass_flux(ROOM, DENSITY, ratios * ROOM, gamma)
    free = ratios[1:] > critical_ratio(gamma)
    grown = np.diff(flux)
    assert (grown[free] > 0).all()
    choked = ratios <= critical_ratio(gamma)
    assert np.ptp(flux[choked]) == pytest.approx(0.0, abs=1e-10)


@given(gammas, st.floats(1e-9, 1e-4))
def test_mach_number_and_velocity_do_not_jump_where_it_chokes(gamma: float, step: float) -> None:
    star = critical_ratio(gamma)
    assert mach_number(star, gamma) == pytest.approx(1.0, rel=1e-12)
    for figure in (lambda r: mach_number(r, gamma), lambda r: isentropic_velocity(293.0, r, gamma)):
        assert figure(star - step) == figure(star)
        # M falls from 1 at a slope below 2 over the ratio, for any gamma here.
        assert 0.0 <= float(figure(star) / figure(star + step)) - 1.0 <= 4.0 * step


@given(valves(), st.floats(0.001, 0.4), st.floats(1e-6, 0.1))
def test_more_lift_opens_more(valve: Valve, share: float, more: float) -> None:
    """The curtain always; the least area until the port is all there is."""
    head = valve.head_diameter
    low, high = share * head, (share + more) * head
    assert curtain_area(head, high) > curtain_area(head, low)
    assert valve.seat is not None
    least = [float(least_valve_area(head, valve.seat, lift)) for lift in (low, high)]
    assert least[1] >= least[0] * (1 - 1e-12)


@given(valves(), st.floats(0.001, 0.4))
def test_the_least_area_never_jumps(valve: Valve, share: float) -> None:
    """A step of lift adds no more than its own curtain: the opening's edges move by the step."""
    head, step = valve.head_diameter, 1e-9
    assert valve.seat is not None
    areas = [float(least_valve_area(head, valve.seat, share * head + x)) for x in (0.0, step)]
    assert areas[1] - areas[0] <= float(curtain_area(head, step)) * 1.5


@given(flow_tests(), st.floats(1.001, 1.5))
def test_more_read_is_more_of_every_figure(test: FlowTest, growth: float) -> None:
    more = dataclasses.replace(
        test, runs=tuple(tuple(run * growth for run in runs) for runs in test.runs)
    )
    item, other = reduce(test), reduce(more)
    for name in ("flow", "mass_flow", "effective_area", "cd_curtain", "cd_head", "velocity"):
        assert (getattr(other, name) > getattr(item, name)).all(), name
    assert other.mean_flow > item.mean_flow


@given(flow_tests(), st.floats(1e-5, 4e-3))
def test_more_leakage_leaves_less_and_trusts_it_less(test: FlowTest, more: float) -> None:
    leakier = dataclasses.replace(test, leakage=test.leakage + more)
    item, other = reduce(test), reduce(leakier)
    assert (other.flow < item.flow).all()
    assert (other.budget.runs >= item.budget.runs).all()


@given(flow_tests(), st.floats(1.01, 2.0))
def test_the_same_reading_at_more_pressure_is_worth_less(test: FlowTest, growth: float) -> None:
    harder = reduce(dataclasses.replace(test, test_pressure=test.test_pressure * growth))
    softer = reduce(test)
    assert (harder.flow < softer.flow).all()
    assert (harder.effective_area < softer.effective_area).all()
    assert harder.mass_flow == pytest.approx(softer.mass_flow, rel=1e-14)


@given(st.floats(1.0, 1e4), st.floats(1.0, 1e4))
def test_more_degrees_of_freedom_never_want_a_larger_factor(one: float, other: float) -> None:
    few, many = sorted((one, other))
    assert factor_95(few) >= factor_95(many) >= NORMAL_95


@given(st.lists(st.floats(0.01, 1.0), min_size=2, max_size=5), st.data())
def test_the_effective_freedom_lies_between_the_least_and_the_sum(
    parts: list[float], data: st.DataObject
) -> None:
    """JCGM 100:2008, G.4.2: at least the smallest, at most their sum."""
    freedoms = [data.draw(st.integers(1, 60)) for _ in parts]
    answer = float(effective_degrees_of_freedom(parts, freedoms))
    assert min(freedoms) * (1 - 1e-9) <= answer <= sum(freedoms) * (1 + 1e-9)


@given(st.floats(0.1, 0.99), st.floats(0.1, 0.99), st.floats(200.0, 400.0), st.floats(1e-5, 1e-3))
def test_engine_figures_go_the_way_they_should(
    one: float, other: float, temperature: float, clearance: float
) -> None:
    low, high = sorted((one, other))
    assert turbine_power(1.0, 1200.0, low) >= turbine_power(1.0, 1200.0, high) > 0.0
    assert speed_of_sound(temperature * 1.01) > speed_of_sound(temperature)
    assert compression_ratio(5e-4, clearance) > compression_ratio(5e-4, clearance * 1.01) > 1.0
