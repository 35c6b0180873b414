"""Flow through a restriction against a real gas, published tables and handbook rules."""

from __future__ import annotations

import math

import numpy as np
import pytest
from CoolProp.CoolProp import PropsSI
from fluids.compressible import P_critical_flow
from hypothesis import given
from hypothesis import strategies as st

from shopflow.calc.gas import (
    bernoulli_velocity,
    critical_ratio,
    ideal_mass_flux,
    isentropic_velocity,
    mach_number,
)

ROOM, TEMPERATURE = 101325.0, 293.15
DENSITY = ROOM / (287.05 * TEMPERATURE)
INCH = 249.08891
"""Pa in a conventional inch of water (NIST SP 811)."""

DP = 28 * INCH
BLOWN = DENSITY * (ROOM + DP) / ROOM
CFM = 0.3048**3 / 60


def real_gas_flux(p0: float, t0: float, p1: float) -> float:
    """Mass flux of CoolProp's real air down an isentrope, the greatest on the way."""
    enthalpy = PropsSI("H", "P", p0, "T", t0, "Air")
    entropy = PropsSI("S", "P", p0, "T", t0, "Air")

    def flux(p: float) -> float:
        here = PropsSI("H", "P", p, "S", entropy, "Air")
        return float(PropsSI("D", "P", p, "S", entropy, "Air") * math.sqrt(2 * (enthalpy - here)))

    throat = np.linspace(max(p1, 0.5 * p0), 0.9999 * p0, 200)
    return max(flux(float(p)) for p in (throat if p1 < 0.6 * p0 else throat[:1]))


@pytest.mark.source("fluids, P_critical_flow; NACA Report 1135 for 1.4")
@pytest.mark.parametrize("gamma", [1.4, 1.35, 1.3])
def test_choking_ratio_is_the_library_s(gamma: float) -> None:
    assert critical_ratio(gamma) == pytest.approx(P_critical_flow(1.0, gamma), rel=1e-12)


@pytest.mark.source("CoolProp's real air; the isentropic relations of NACA Report 1135, by hand")
@pytest.mark.parametrize(
    ("p0", "rho0", "p1", "flow"),
    [
        pytest.param(ROOM, DENSITY, ROOM - DP, 0.1247301, id="drawn in at 28 inH2O"),
        pytest.param(ROOM + DP, BLOWN, ROOM, 0.1292815, id="blown out at 28 inH2O"),
        pytest.param(ROOM, DENSITY, 0.3 * ROOM, 0.2391736, id="choked"),
    ],
)
def test_1000_mm2_pass_what_a_real_gas_does(p0: float, rho0: float, p1: float, flow: float) -> None:
    """By hand from NACA Report 1135; CoolProp's real air within 0.06 %."""
    answer = 1e-3 * float(ideal_mass_flux(p0, rho0, p1))
    assert answer == pytest.approx(flow, rel=1e-6)
    assert answer == pytest.approx(1e-3 * real_gas_flux(p0, TEMPERATURE, p1), rel=6e-4)


@pytest.mark.source("Bernoulli's equation and the isentropic relations, by hand")
@pytest.mark.parametrize(
    ("p0", "rho0", "incompressible", "ratio"),
    [
        pytest.param(ROOM, DENSITY, 0.1296002, 0.962422, id="drawn in"),
        pytest.param(ROOM + DP, BLOWN, 0.1339864, 0.964886, id="blown out"),
    ],
)
def test_compressibility_takes_about_4_percent_at_28_inches(
    p0: float, rho0: float, incompressible: float, ratio: float
) -> None:
    """By hand: Bernoulli's flow with the upstream density, and the isentropic share of it."""
    bernoulli = 1e-3 * rho0 * float(bernoulli_velocity(DP, rho0))
    assert bernoulli == pytest.approx(incompressible, rel=1e-6)
    answer = 1e-3 * float(ideal_mass_flux(p0, rho0, p0 - DP))
    assert answer / bernoulli == pytest.approx(ratio, rel=1e-6)


@pytest.mark.source("Isentropic relations, by hand")
@pytest.mark.parametrize(
    ("p0", "rho0", "cfm"),
    [
        pytest.param(ROOM, DENSITY, 219.487, id="drawn in"),
        pytest.param(ROOM + DP, BLOWN, 227.496, id="blown out"),
    ],
)
def test_1000_mm2_in_cfm_of_room_air(p0: float, rho0: float, cfm: float) -> None:
    """By hand, from the mass flows above at the room's density."""
    flow = 1e-3 * float(ideal_mass_flux(p0, rho0, p0 - DP)) / DENSITY
    assert flow / CFM == pytest.approx(cfm, rel=1e-5)


@pytest.mark.source("NASA Glenn, Isentropic flow equations, by hand")
@pytest.mark.parametrize(
    ("p0", "t0", "velocity", "mach"),
    [
        pytest.param(ROOM, TEMPERATURE, 108.9997, 0.32082, id="drawn in"),
        pytest.param(ROOM + DP, TEMPERATURE, 105.3434, 0.30985, id="blown out"),
    ],
)
def test_throat_velocity_and_mach(p0: float, t0: float, velocity: float, mach: float) -> None:
    """By hand from the isentropic relations (NASA Glenn, "Isentropic flow equations")."""
    ratio = (p0 - DP) / p0
    assert isentropic_velocity(t0, ratio) == pytest.approx(velocity, rel=1e-5)
    assert mach_number(ratio) == pytest.approx(mach, rel=1e-4)


@pytest.mark.source("NACA Report 1135, table I")
@pytest.mark.parametrize(
    ("mach", "ratio"), [(0.3, 0.9395), (0.5, 0.8430), (0.8, 0.6560), (1.0, 0.5283)]
)
def test_mach_number_is_the_tables(mach: float, ratio: float) -> None:
    """NACA Report 1135, table I: pressure ratios of four figures."""
    assert mach_number(ratio) == pytest.approx(mach, abs=2e-4)


@pytest.mark.source("ISO 9300: critical flow function of an ideal gas, 0.68473")
def test_a_sonic_nozzle_s_size() -> None:
    """100 g/s of dry air at 100 kPa and 25 °C need 427.24 mm2, by the critical flow function.

    C* = sqrt(γ) (2/(γ+1))^((γ+1)/(2(γ−1))) = 0.68473 for γ 1.4.
    """
    star = math.sqrt(1.4) * (2 / 2.4) ** 3
    assert star == pytest.approx(0.68473, abs=5.1e-6)
    expected = 0.1 * math.sqrt(287.05 * 298.15) / (star * 1e5)
    answer = 0.1 / float(ideal_mass_flux(1e5, 1e5 / (287.05 * 298.15), 1e4))
    assert answer == pytest.approx(expected, rel=1e-12)
    assert answer * 1e6 == pytest.approx(427.24, abs=0.005)


@pytest.mark.source("ACGIH, Industrial Ventilation: 4005 sqrt(VP)")
@pytest.mark.parametrize(
    ("inches", "velocity", "fpm"), [(28, 107.7532, 21192.5), (10, 64.3949, 12664.9)]
)
def test_velocity_pressure_follows_the_rule_of_4005(
    inches: int, velocity: float, fpm: float
) -> None:
    """ACGIH, Industrial Ventilation: 4005 sqrt(VP) in air of 0.075 lb/ft3, good to 0.1 %."""
    density = 0.075 * 0.45359237 / 0.3048**3
    answer = float(bernoulli_velocity(inches * INCH, density))
    assert answer == pytest.approx(velocity, rel=1e-6)
    assert fpm == pytest.approx(4005 * math.sqrt(inches), rel=1e-5)
    assert answer / 0.3048 * 60 == pytest.approx(fpm, rel=1e-3)


@pytest.mark.source("Gas law and Bernoulli, by hand")
def test_volume_flow_grows_with_the_root_of_temperature() -> None:
    """From 20 to 35 °C at like pressures 1.025265-fold (gas law and Bernoulli, by hand)."""
    cool, warm = (ROOM / (287.05 * t) for t in (293.15, 308.15))
    grown = bernoulli_velocity(DP, warm) / bernoulli_velocity(DP, cool)
    assert grown == pytest.approx(1.025265, rel=1e-6)


@pytest.mark.source("Isentropic relations, by hand")
def test_from_10_to_28_inches_flow_grows_less_than_the_root() -> None:
    """1.632076-fold by the isentropic relations, by hand; 1.67332-fold by the square root."""
    flows = [ideal_mass_flux(ROOM, DENSITY, ROOM - inches * INCH) for inches in (10, 28)]
    assert flows[1] / flows[0] == pytest.approx(1.632076, rel=1e-6)


ratios = st.floats(0.01, 0.999)


@given(ratios, ratios)
def test_a_lower_pressure_downstream_never_draws_less(one: float, other: float) -> None:
    low, high = sorted((one, other))
    assert ideal_mass_flux(ROOM, DENSITY, low * ROOM) >= ideal_mass_flux(ROOM, DENSITY, high * ROOM)


@given(st.floats(1e-9, 1e-4), st.sampled_from([1.4, 1.35, 1.3]))
def test_flow_is_continuous_where_it_chokes(step: float, gamma: float) -> None:
    """The flow has its top there, so that a step from it changes it by the step's square."""
    star = critical_ratio(gamma)
    below, at, above = (
        float(ideal_mass_flux(ROOM, DENSITY, r * ROOM, gamma))
        for r in (star - step, star, star + step)
    )
    assert below == pytest.approx(at, rel=1e-14)
    assert above == pytest.approx(at, rel=10 * step**2 + 1e-14)


@given(ratios, st.floats(0.1, 10.0), st.floats(0.1, 10.0))
def test_flux_scales_with_the_root_of_pressure_times_density(
    ratio: float, more: float, denser: float
) -> None:
    item = ideal_mass_flux(ROOM, DENSITY, ratio * ROOM)
    scaled = ideal_mass_flux(more * ROOM, denser * DENSITY, ratio * more * ROOM)
    assert scaled == pytest.approx(float(item) * math.sqrt(more * denser), rel=1e-9)


@pytest.mark.source("Series of the isentropic flux for small pressures, by hand")
@given(st.floats(1e-6, 1e-3))
def test_small_pressures_leave_air_incompressible(fraction: float) -> None:
    """Bernoulli's flow is the limit; the next term of the expansion is 3/(4γ) of the pressure."""
    answer = ideal_mass_flux(ROOM, DENSITY, ROOM * (1 - fraction))
    bernoulli = float(DENSITY * bernoulli_velocity(fraction * ROOM, DENSITY))
    expanded = bernoulli * (1 - 0.75 / 1.4 * fraction)
    assert answer == pytest.approx(expanded, rel=fraction**2 + 1e-9)


@given(st.floats(0.53, 0.999))
def test_velocity_and_density_in_the_throat_make_the_flux(ratio: float) -> None:
    throat_density = DENSITY * ratio ** (1 / 1.4)
    flux = throat_density * isentropic_velocity(TEMPERATURE, ratio)
    assert flux == pytest.approx(float(ideal_mass_flux(ROOM, DENSITY, ratio * ROOM)), rel=1e-9)
