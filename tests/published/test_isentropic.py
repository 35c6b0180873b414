"""Flow through a restriction against tables, standards for valves and nozzles, and libraries."""

from __future__ import annotations

import math

import numpy as np
import pytest
from fluids.compressible import T_stagnation_ideal
from fluids.flow_meter import nozzle_expansibility
from fluids.safety_valve import API520_A_g
from scipy.integrate import quad
from scipy.optimize import minimize_scalar

from shopflow.calc.gas import (
    bernoulli_velocity,
    critical_ratio,
    ideal_mass_flux,
    isentropic_velocity,
    mach_number,
)

ROOM, TEMPERATURE, GAS = 101325.0, 293.15, 287.05
DENSITY = ROOM / (GAS * TEMPERATURE)
DP = 28 * 249.08891
SIDES = {"intake": (ROOM, ROOM - DP), "exhaust": (ROOM + DP, ROOM)}
each_side = pytest.mark.parametrize(("p0", "p1"), SIDES.values(), ids=SIDES.keys())


@pytest.mark.source("NACA Report 1135, table I: Mach number, p/pt")
@pytest.mark.parametrize(
    ("mach", "ratio"),
    [(0.1, 0.9930), (0.2, 0.9725), (0.4, 0.8956), (0.6, 0.7840), (0.7, 0.7209), (0.9, 0.5913)],
)
def test_more_mach_numbers_of_the_tables(mach: float, ratio: float) -> None:
    """A pressure ratio of four figures leaves the Mach number this uncertain at 0.1."""
    assert mach_number(ratio) == pytest.approx(mach, abs=5e-4)


@pytest.mark.source("NACA Report 1135, table I: A/A*")
@pytest.mark.parametrize(
    ("mach", "area"), [(0.2, 2.9635), (0.3, 2.0351), (0.5, 1.3398), (0.7, 1.0944), (1.0, 1.0)]
)
def test_the_flux_is_the_tables_area_ratio(mach: float, area: float) -> None:
    """A/A* is the choked flux over the flux at that Mach number."""
    ratio = (1 + 0.2 * mach**2) ** -3.5
    fluxes = [ideal_mass_flux(ROOM, DENSITY, r * ROOM) for r in (0.1, ratio)]
    assert fluxes[0] / fluxes[1] == pytest.approx(area, rel=5e-5)


@pytest.mark.source("NACA Report 1135: critical pressure ratio, by hand for γ 1.4, 1.35 and 1.3")
@pytest.mark.parametrize(("gamma", "ratio"), [(1.4, 0.528282), (1.35, 0.536851), (1.3, 0.545728)])
def test_critical_ratios(gamma: float, ratio: float) -> None:
    assert critical_ratio(gamma) == pytest.approx(ratio, abs=5.1e-7)


@pytest.mark.source("SciPy minimize_scalar: where the flux is greatest")
@pytest.mark.parametrize("gamma", [1.2, 1.3, 1.4, 1.66])
def test_it_chokes_where_the_flux_is_greatest(gamma: float) -> None:
    answer = minimize_scalar(
        lambda r: -(r ** (2 / gamma) - r ** ((gamma + 1) / gamma)), bounds=(0.3, 0.9),
        method="bounded", options={"xatol": 1e-10},
    )  # fmt: skip
    assert critical_ratio(gamma) == pytest.approx(answer.x, abs=1e-6)


@pytest.mark.source("API Standard 520, part I, through fluids: vapour relief, choked and not")
@pytest.mark.parametrize("p1", [ROOM - DP, 0.8 * ROOM, 0.3 * ROOM])
def test_a_relief_valve_of_that_area_passes_the_flow(p1: float) -> None:
    """The standard's constants are rounded (17.9, 0.03948): 0.06 %."""
    area = API520_A_g(m=0.1, T=TEMPERATURE, Z=1, MW=8314.462618 / GAS, k=1.4, P1=ROOM, P2=p1, Kd=1)
    assert 0.1 / ideal_mass_flux(ROOM, DENSITY, p1) == pytest.approx(area, rel=6e-4)


@pytest.mark.source("ISO 5167-3, expansibility of nozzles at β = 0, through fluids")
@each_side
def test_the_flux_is_bernoulli_s_times_the_nozzle_s_expansibility(p0: float, p1: float) -> None:
    rho = DENSITY * p0 / ROOM
    factor = nozzle_expansibility(D=1.0, Do=1e-4, P1=p0, P2=p1, k=1.4)
    incompressible = rho * bernoulli_velocity(p0 - p1, rho)
    assert ideal_mass_flux(p0, rho, p1) == pytest.approx(float(factor * incompressible), rel=1e-9)


@pytest.mark.source("Energy equation, SciPy quad: V²/2 = ∫ dp/ρ along p/ρ^γ")
@each_side
def test_the_velocity_is_the_work_of_expansion(p0: float, p1: float) -> None:
    rho = p0 / (GAS * TEMPERATURE)
    work, _ = quad(lambda p: 1.0 / (rho * (p / p0) ** (1 / 1.4)), p1, p0, epsabs=0, epsrel=1e-12)
    assert isentropic_velocity(TEMPERATURE, p1 / p0) == pytest.approx(math.sqrt(2 * work), rel=1e-9)


@pytest.mark.source("fluids, T_stagnation_ideal")
@pytest.mark.parametrize("ratio", [0.95, 0.8, 0.6])
def test_the_jet_brought_to_rest_is_as_warm_as_the_room(ratio: float) -> None:
    velocity = float(isentropic_velocity(TEMPERATURE, ratio))
    throat = TEMPERATURE * ratio ** (0.4 / 1.4)
    assert T_stagnation_ideal(throat, velocity, 3.5 * GAS) == pytest.approx(TEMPERATURE, rel=1e-9)


@pytest.mark.source("Fliegner's formula: 0.040415 p0/sqrt(T0)")
def test_choked_flow_is_fliegner_s() -> None:
    fliegner = 0.040415 * ROOM / math.sqrt(TEMPERATURE)
    assert ideal_mass_flux(ROOM, DENSITY, 0.0) == pytest.approx(fliegner, rel=1.3e-5)


@pytest.mark.source("Isentropic relations, by hand: 28 inH2O drawn and blown")
def test_pressure_ratios_and_densities_of_both_directions() -> None:
    """r 0.931167 and 0.935600; upstream 1.204118 and 1.287001 kg/m3, 6.9 % apart."""
    ratios = [p1 / p0 for p0, p1 in SIDES.values()]
    densities = [DENSITY * p0 / ROOM for p0, _ in SIDES.values()]
    assert ratios == pytest.approx([0.931167, 0.935600], abs=5.1e-7)
    assert densities == pytest.approx([1.204118, 1.287001], abs=5.1e-7)
    assert densities[1] / densities[0] - 1 == pytest.approx(0.069, abs=5e-4)
    flows = [
        1e-3 * float(ideal_mass_flux(p0, rho, p1))
        for (p0, p1), rho in zip(SIDES.values(), densities, strict=True)
    ]
    assert flows == pytest.approx([0.1247301, 0.1292815], abs=6e-8)


@pytest.mark.source("ACGIH, Industrial Ventilation, by hand: 4008.55 with the conventional inch")
def test_the_handbook_s_4005_in_the_conventional_inch() -> None:
    """28 in: 353.521 ft/s. The handbook's 4005 is within 0.1 % of 4008.55."""
    density = 0.075 * 0.45359237 / 0.3048**3
    item = float(bernoulli_velocity(249.08891, density)) / 0.3048 * 60
    assert item == pytest.approx(4008.55, abs=6e-3)
    assert item == pytest.approx(4005, rel=1e-3)
    assert float(bernoulli_velocity(DP, density)) / 0.3048 == pytest.approx(353.521, abs=6e-4)


@pytest.mark.source("Bernoulli's equation, by hand: V = 1.288848 sqrt(pv) at 1.204 kg/m3")
def test_velocity_from_pressure_in_si() -> None:
    pressures = np.array([50.0, 250.0, 1000.0])
    answer = bernoulli_velocity(pressures, 1.204)
    assert answer == pytest.approx(1.288848 * np.sqrt(pressures), rel=5e-7)
