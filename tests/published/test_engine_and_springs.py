"""An engine's volumes and gas, a valve's springs: worked in another way, or by a library."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.compressible import isentropic_work_compression
from scipy.integrate import quad
from scipy.optimize import brentq

from shopflow.calc.air import speed_of_sound
from shopflow.calc.compression import compression_ratio, cylinder_volume
from shopflow.calc.flow import kinetic_energy_flux
from shopflow.calc.machindex import mach_index, mean_piston_speed, speed_at_index
from shopflow.calc.springs import load_at_lift, pressure_force, spring_rate, wire_rate
from shopflow.calc.turbo import exhaust_to_intake_volume, turbine_power
from shopflow.calc.turbo_balance import Turbocharger, balance, compressor_power

PSI = 0.45359237 * 9.80665 / 0.0254**2
LBF = 0.45359237 * 9.80665
INCH = 0.0254


@pytest.mark.source("Shigley, Mechanical Engineering Design, example 10-1: 4.13 lbf/in")
def test_the_handbook_s_music_wire_spring() -> None:
    """Wire 0.037, mean coil 0.400 in, 12.5 coils squared (10.5 active), G 11.85 Mpsi."""
    rate = wire_rate(11.85e6 * PSI, 0.037 * INCH, 0.400 * INCH, 10.5)
    assert rate / (LBF / INCH) == pytest.approx(4.13, abs=6e-3)


@pytest.mark.source("Castigliano's theorem: torsion energy along the wire, by SciPy quad")
def test_a_spring_s_rate_is_its_wire_s_torsion() -> None:
    """δ = ∂U/∂F with torque F D/2 along π D N of wire; J = π d⁴/32."""
    modulus, wire, coil, turns = 79.3e9, 4e-3, 26e-3, 5.0
    second_moment, _ = quad(lambda r: 2 * math.pi * r**3, 0, wire / 2)
    compliance, _ = quad(
        lambda _: (coil / 2) ** 2 / (modulus * second_moment), 0, math.pi * coil * turns
    )
    assert wire_rate(modulus, wire, coil, turns) == pytest.approx(1 / compliance, rel=1e-9)


@pytest.mark.source("Hooke's law, numpy.polyfit: the line through two loads")
def test_rate_and_load_are_a_straight_line_s() -> None:
    lifts, loads = [0.0, 0.550 * INCH], [90 * LBF, 240 * LBF]
    gradient, start = np.polyfit(lifts, loads, 1)
    rate = spring_rate(loads[0], loads[1], lifts[1])
    assert rate == pytest.approx(gradient, rel=1e-9)
    assert load_at_lift(loads[0], rate, 0.4 * INCH) == pytest.approx(start + gradient * 0.4 * INCH)


@pytest.mark.source("Pressure integrated over the face by SciPy quad")
def test_boost_is_pressure_over_the_face() -> None:
    """Boost in the port against pressure in the cylinder: the net of both is what counts."""
    force, _ = quad(lambda r: 20 * PSI * 2 * math.pi * r, 3.5e-3, 22e-3)
    assert pressure_force(20 * PSI, 44e-3, 7e-3) == pytest.approx(force, rel=1e-9)
    net = pressure_force(20 * PSI, 44e-3) - pressure_force(5 * PSI, 44e-3)
    assert net == pytest.approx(pressure_force(15 * PSI, 44e-3), rel=1e-12)


@pytest.mark.source("Slider and crank, its volumes over a turn: greatest over least")
def test_the_compression_ratio_is_that_of_a_crank_s_volumes() -> None:
    """V(θ) over a turn with a rod of 1.7 strokes."""
    bore, stroke, clearance = 86.4e-3, 86.4e-3, 63.94469e-6
    crank, rod = stroke / 2, 1.7 * stroke
    angle = np.linspace(0, 2 * np.pi, 3601)
    pin = crank * np.cos(angle) + np.sqrt(rod**2 - (crank * np.sin(angle)) ** 2)
    volume = clearance + np.pi / 4 * bore**2 * (rod + crank - pin)
    answer = compression_ratio(cylinder_volume(bore, stroke), clearance)
    assert answer == pytest.approx(volume.max() / volume.min(), rel=1e-9)
    assert answer == pytest.approx(8.921850, abs=6e-6)


@pytest.mark.source("Slider and crank: the mean of the piston's speed over a turn")
def test_the_mean_piston_speed_is_the_crank_s() -> None:
    crank, rod, turns = 43.2e-3, 0.147, 100.0
    angle = np.linspace(0, 2 * np.pi, 200_001)
    pin = crank * np.cos(angle) + np.sqrt(rod**2 - (crank * np.sin(angle)) ** 2)
    path = np.abs(np.diff(pin)).sum()
    assert mean_piston_speed(2 * crank, turns) == pytest.approx(path * turns, rel=1e-9)


@pytest.mark.source("Continuity, by hand: piston area × speed through the valve's mean open area")
def test_the_mach_index_is_the_mean_gas_speed_over_sound() -> None:
    """The definition (JSME dictionary, entry 11:1002813) made of its two speeds."""
    bore, valve, coefficient = 86.4e-3, 45.2e-3, 0.35
    piston = mean_piston_speed(86.4e-3, 100.0)
    open_area = coefficient * math.pi / 4 * valve**2
    gas = math.pi / 4 * bore**2 * piston / open_area
    sound = float(speed_of_sound(293.15))
    index = mach_index(bore, valve, 1, piston, coefficient, sound)
    assert index == pytest.approx(gas / sound, rel=1e-12)
    assert mach_index(bore, valve, 1, piston * 1.2, coefficient, sound) == pytest.approx(
        speed_at_index(1.2, index, 1.0), rel=1e-12
    )


@pytest.mark.source("JSME dictionary, entry 11:1002813: filling falls steeply above Z of 0.5")
def test_an_ordinary_engine_reaches_the_limit_near_its_red_line() -> None:
    index = mach_index(86.4e-3, 45.2e-3, 1, 17.28, 0.35, 343.232)
    assert 5500 < speed_at_index(0.5, 6000.0, index) < 6000


@pytest.mark.source("fluids, isentropic_work_compression, run as an expansion")
@pytest.mark.parametrize("efficiency", [1.0, 0.7])
def test_a_turbine_s_work_is_the_library_s(efficiency: float) -> None:
    """J/mol there: R = cp (γ − 1)/γ makes it J/kg. An expander's losses divide, not multiply."""
    inlet, outlet = 32.696 * PSI, 14.696 * PSI
    work = -isentropic_work_compression(T1=1200.0, k=1.333, P1=inlet, P2=outlet, eta=1.0)
    per_kilogram = work / 8.31446261815324 * 1148.0 * 0.333 / 1.333
    answer = turbine_power(1.0, 1200.0, outlet / inlet, efficiency)
    assert answer == pytest.approx(efficiency * per_kilogram, rel=1e-6)


@pytest.mark.source("CoolProp, real hot air down an isentrope")
def test_a_turbine_s_work_is_near_real_air_s() -> None:
    """Exhaust gas of cp 1148 J/(kg K) is not air: 0.5 % apart here."""
    inlet, outlet = 32.696 * PSI, 14.696 * PSI
    entropy = PropsSI("S", "T", 1200.0, "P", inlet, "Air")
    drop = PropsSI("H", "T", 1200.0, "P", inlet, "Air") - PropsSI(
        "H", "P", outlet, "S", entropy, "Air"
    )
    assert turbine_power(1.0, 1200.0, outlet / inlet) == pytest.approx(drop, rel=5e-3)


@pytest.mark.source("CoolProp: densities of real air at both states")
def test_exhaust_takes_the_room_that_real_gas_of_its_mass_does() -> None:
    inlet, outlet = 34.696 * PSI, 32.696 * PSI
    cold = PropsSI("D", "T", 300.0, "P", inlet, "Air")
    hot = PropsSI("D", "T", 1200.0, "P", outlet, "Air")
    answer = exhaust_to_intake_volume(0.08, 1200.0, 300.0, inlet, outlet)
    assert answer == pytest.approx(1.08 * cold / hot, rel=2e-3)


@pytest.mark.source("Stoichiometry of CH1.87 in air, IUPAC atomic masses, by hand: F/A 0.0685")
def test_the_charge_grows_by_its_fuel() -> None:
    """A carbon with 1.87 hydrogens takes 1.4675 O2, 20.95 % of air by volume."""
    fuel, air = 12.011 + 1.87 * 1.008, (1 + 1.87 / 4) / 0.2095 * 28.9655
    assert fuel / air == pytest.approx(0.0685, abs=5e-5)
    bare, fuelled = (exhaust_to_intake_volume(f, 300.0, 300.0, 1.0, 1.0) for f in (0.0, 0.0685))
    assert (bare, fuelled) == pytest.approx((1.0, (air + fuel) / air), rel=1e-4)


@pytest.mark.source("Definition of kinetic energy: ½ρv³ integrated over the section, SciPy quad")
def test_kinetic_energy_flux_is_that_of_a_flat_profile() -> None:
    """200 cfm through 1200 mm2: 351.599 W. A parabolic profile carries twice as much."""
    radius = math.sqrt(1200e-6 / math.pi)
    flow = 200 * 0.3048**3 / 60
    mean = flow / 1200e-6
    flat, _ = quad(lambda r: 0.5 * 1.204118 * mean**3 * 2 * math.pi * r, 0, radius)
    parabolic, _ = quad(
        lambda r: 0.5 * 1.204118 * (2 * mean * (1 - (r / radius) ** 2)) ** 3 * 2 * math.pi * r,
        0, radius,
    )  # fmt: skip
    answer = kinetic_energy_flux(1.204118, flow, mean)
    assert answer == pytest.approx(flat, rel=1e-9)
    assert answer == pytest.approx(parabolic / 2, rel=1e-9)
    assert answer == pytest.approx(351.599, abs=6e-4)


@pytest.mark.source("fluids: isentropic_work_compression of air, through an efficiency")
def test_a_compressor_takes_what_the_library_says() -> None:
    """cp 1005 and gamma 1.4 stand for R = 287.14 J/(kg K)."""
    work = (
        isentropic_work_compression(T1=300.0, k=1.4, Z=1.0, P1=1e5, P2=2.2e5, eta=0.7) / 0.0289652
    )
    assert compressor_power(0.2, 300.0, 2.2, 0.7) == pytest.approx(0.2 * work, rel=1e-3)


@pytest.mark.source("SciPy: brentq on the two powers, and CoolProp's isentropes of air")
def test_a_balance_is_where_the_powers_meet() -> None:
    unit = Turbocharger(0.72, 0.70, 0.96)
    answer = balance(unit, 0.2, 300.0, 2.2, 0.08, 1200.0, 1.05e5)

    def short(pressure: float) -> float:
        given = turbine_power(0.216, 1200.0, 1.05e5 / pressure, 0.70)
        return float(0.96 * given - compressor_power(0.2, 300.0, 2.2, 0.72))

    root = brentq(short, 1.06e5, 9e5, xtol=1e-6)
    assert answer.inlet_pressure == pytest.approx(root, rel=1e-9)
    assert answer.turbine_power == pytest.approx(answer.power / 0.96, rel=1e-9)
    entropy = PropsSI("S", "T", 300.0, "P", 1e5, "Air")
    ideal = PropsSI("T", "S", entropy, "P", 2.2e5, "Air")
    outlet = 300.0 + (ideal - 300.0) / 0.72
    assert answer.outlet_temperature == pytest.approx(outlet, abs=1.0)


@pytest.mark.source("the first law: no expansion gives more than all of the gas's heat")
def test_too_much_boost_is_out_of_reach() -> None:
    answer = balance(Turbocharger(0.5, 0.3, 0.9), 0.2, 300.0, 4.5, 0.06, 800.0, 1e5)
    assert answer.inlet_pressure is None
    assert answer.power > 0.9 * 0.3 * 0.2 * 1.06 * 1148.0 * 800.0
