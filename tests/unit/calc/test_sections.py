"""Sections along a port against published tables, a real gas and a general library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.compressible import P_stagnation, T_stagnation_ideal
from hypothesis import given
from hypothesis import strategies as st
from scipy.integrate import quad

from shopflow.calc.areas import Seat, Valve
from shopflow.calc.gas import ideal_mass_flux, mach_number
from shopflow.calc.sections import (
    critical_flux,
    flow_along,
    mass_flux,
    mean_area,
    port_volume,
    subsonic_mach,
    valve_areas,
)

ROOM, TEMPERATURE = 101325.0, 293.15
DENSITY = ROOM / (287.05 * TEMPERATURE)
CFM = 0.3048**3 / 60


@pytest.mark.parametrize(
    ("area_over_critical", "mach"),
    [(5.8218, 0.10), (3.9103, 0.15), (1.3398, 0.50), (1.1882, 0.60), (1.0305, 0.82), (1.0089, 0.9)],
)
def test_mach_numbers_are_those_of_the_published_tables(area_over_critical, mach):
    """A/A* for a ratio of 1.4: NACA Technical Note 1592 and Report 1135 (four decimals).

    The values were read in a public copy of such a table; near Mach 1 its last digit is worth
    about 0.0005 of Mach.
    """
    flux = critical_flux(ROOM, TEMPERATURE) / area_over_critical
    assert subsonic_mach(flux, ROOM, TEMPERATURE) == pytest.approx(mach, abs=6e-4)


@pytest.mark.parametrize("pressure", [5e3, 20e3, 40e3])
def test_the_mach_number_is_that_of_the_pressure_the_flux_comes_from(pressure):
    flux = ideal_mass_flux(ROOM, DENSITY, ROOM - pressure)
    answer = subsonic_mach(flux, ROOM, TEMPERATURE)
    assert answer == pytest.approx(mach_number((ROOM - pressure) / ROOM), rel=1e-9)


@pytest.mark.parametrize("mach", [0.1, 0.3, 0.6, 0.95])
def test_the_flux_is_density_times_velocity_by_a_library_s_stagnation_state(mach):
    """fluids gives stagnation from static conditions: static air at Mach m, worked back."""
    static = 250.0
    velocity = mach * math.sqrt(1.4 * 287.05 * static)
    t0 = T_stagnation_ideal(static, velocity, Cp=1.4 / 0.4 * 287.05)
    p0 = P_stagnation(80e3, static, t0, 1.4)
    assert mass_flux(mach, p0, t0) == pytest.approx(80e3 / (287.05 * static) * velocity, rel=1e-9)


def test_a_section_of_real_air_is_as_fast():
    """CoolProp's air down an isentrope to the pressure of Mach 0.4: flux within 0.1 %."""
    p0, t0 = ROOM, TEMPERATURE
    static = p0 * (1 + 0.2 * 0.4**2) ** -3.5
    entropy = PropsSI("S", "P", p0, "T", t0, "Air")
    drop = PropsSI("H", "P", p0, "T", t0, "Air") - PropsSI("H", "P", static, "S", entropy, "Air")
    flux = PropsSI("D", "P", static, "S", entropy, "Air") * math.sqrt(2 * drop)
    assert subsonic_mach(flux, p0, t0) == pytest.approx(0.4, rel=1.5e-3)


@given(
    mach=st.floats(0.0, 0.999),
    pressure=st.floats(5e4, 3e5),
    temperature=st.floats(250.0, 1300.0),
)
def test_mach_goes_there_and_back(mach, pressure, temperature):
    flux = mass_flux(mach, pressure, temperature)
    assert subsonic_mach(flux, pressure, temperature) == pytest.approx(mach, abs=1e-6)


def test_above_the_critical_flux_a_section_is_choked_and_at_it_sonic():
    critical = critical_flux(ROOM, TEMPERATURE)
    at, above = subsonic_mach(np.array([1.0, 1.001]) * critical, ROOM, TEMPERATURE)
    assert at == pytest.approx(1.0, abs=1e-6)
    assert math.isnan(above)


def test_velocity_and_mach_at_each_section():
    """200 cfm through 1200 mm2: 78.6579 m/s by hand (flow over area)."""
    areas = [1.2e-3, 1.0e-3, 0.35e-3]
    answer = flow_along(areas, 200 * CFM, DENSITY, ROOM, TEMPERATURE)
    assert answer.velocity[0] == pytest.approx(78.6579, abs=5e-5)
    assert answer.choked.tolist() == [False, False, True]
    assert answer.mach[0] < answer.mach[1] < 1.0
    # At low speed the Mach number tends to velocity over the speed of sound, 343.232 m/s.
    slow = flow_along(areas[:1], 10 * CFM, DENSITY, ROOM, TEMPERATURE)
    assert slow.mach[0] == pytest.approx(float(slow.velocity[0]) / 343.232, rel=1e-4)


def test_valve_areas_are_those_of_all_the_valves():
    """D 44, w 1.5 (projected), 39 and 7 mm, 45 degrees at 5 mm: brute-force least distance."""
    seat = Seat(0.007, math.pi / 4, 0.0015 / math.cos(math.pi / 4), 0.039)
    answer = valve_areas(Valve(0.044, 2, seat), 0.005)
    assert answer.curtain == pytest.approx(2 * math.pi * 0.044 * 0.005)
    assert answer.least == pytest.approx(2 * 508.4202e-6, rel=1e-6)
    assert answer.throat == pytest.approx(2 * 1156.1061e-6, rel=1e-6)
    assert valve_areas(Valve(0.044), 0.005).throat is None


def test_the_volume_of_a_cone_is_exact_whatever_the_sections():
    """A port tapering from 40 to 32 mm over 90 mm, integrated by SciPy."""

    def area(x: float) -> float:
        return math.pi / 4 * (0.040 - 0.008 * x / 0.090) ** 2

    exact, _ = quad(area, 0.0, 0.090)
    distances = [0.0, 0.012, 0.050, 0.090]
    areas = [area(x) for x in distances]
    assert port_volume(distances, areas) == pytest.approx(exact, rel=1e-12)
    assert mean_area(distances, areas) == pytest.approx(exact / 0.090, rel=1e-12)


def test_one_section_encloses_nothing_and_is_its_own_mean():
    item = [0.025], [1e-3]
    assert port_volume(*item) == 0.0
    assert mean_area(*item) == 1e-3
