"""Metering elements, held against the fluids library, CoolProp and worked cases."""

from __future__ import annotations

import CoolProp.CoolProp as CoolProp
import fluids.flow_meter as fluids
import numpy as np
import pytest
from fluids.atmosphere import ATMOSPHERE_1976

from shopflow.calc.iso5167 import coefficient_uncertainty, outside_standard
from shopflow.calc.meterair import MeterKind, density_at_meter, meter_air_correction
from shopflow.calc.metering import (
    ElementKind,
    MeteredAir,
    OwnElement,
    StandardElement,
    air_viscosity,
    discharge_coefficient,
    expansibility,
    mass_flow,
)

AIR = MeteredAir(101325.0, 293.15, 1.204118)
KINDS = {
    ElementKind.CORNER: (fluids.ISO_5167_ORIFICE, fluids.ORIFICE_CORNER_TAPS),
    ElementKind.FLANGE: (fluids.ISO_5167_ORIFICE, fluids.ORIFICE_FLANGE_TAPS),
    ElementKind.RADIUS: (fluids.ISO_5167_ORIFICE, fluids.ORIFICE_D_AND_D_2_TAPS),
    ElementKind.ISA_1932: (fluids.ISA_1932_NOZZLE, None),
    ElementKind.LONG_RADIUS: (fluids.LONG_RADIUS_NOZZLE, None),
}


@pytest.mark.parametrize(
    ("pipe", "bore", "drop"),
    [(0.1, 0.06, 1500.0), (0.06, 0.03, 400.0), (0.2, 0.14, 5000.0), (0.08, 0.02, 3000.0)],
)
@pytest.mark.parametrize("kind", KINDS)
def test_mass_flow_agrees_with_the_fluids_library(
    kind: ElementKind, pipe: float, bore: float, drop: float
) -> None:
    """That library solves ISO 5167's equations with a root finder; the same equations, so to
    1e-9."""
    meter, taps = KINDS[kind]
    wanted = fluids.differential_pressure_meter_solver(
        D=pipe, D2=bore, P1=AIR.pressure, P2=AIR.pressure - drop, rho=AIR.density,
        mu=float(air_viscosity(AIR.temperature)), k=1.4, meter_type=meter, taps=taps,
    )  # fmt: skip
    answer = mass_flow(StandardElement(kind, bore, pipe), drop, AIR)
    assert answer == pytest.approx(wanted, rel=1e-9)


@pytest.mark.parametrize(
    ("kind", "coefficient", "passed"),
    [
        (ElementKind.CORNER, 0.611296, 0.1108756),
        (ElementKind.FLANGE, 0.611779, 0.1109632),
        (ElementKind.RADIUS, 0.612699, 0.1111300),
        (ElementKind.ISA_1932, 0.959506, 0.1731105),
        (ElementKind.LONG_RADIUS, 0.982162, 0.1771980),
    ],
)
def test_a_worked_case_of_sixty_in_a_hundred_millimetres(
    kind: ElementKind, coefficient: float, passed: float
) -> None:
    """Computed with fluids 1.3.1 at a viscosity of 1.813e-5 Pa s, corner taps also by hand."""
    element = StandardElement(kind, 0.060, 0.100)
    reynolds = 4.0 * passed / (np.pi * 0.100 * 1.813e-5)
    assert discharge_coefficient(element, reynolds) == pytest.approx(coefficient, abs=2e-6)
    assert mass_flow(element, 1500.0, AIR) == pytest.approx(passed, rel=3e-6)


def test_expansibility_of_that_case() -> None:
    """0.995763, by hand and with fluids 1.3.1; nothing expands where nothing flows."""
    plate = StandardElement(ElementKind.CORNER, 0.060, 0.100)
    assert expansibility(plate, 1500.0 / 101325.0) == pytest.approx(0.995763, abs=1e-6)
    for kind in KINDS:
        assert expansibility(StandardElement(kind, 0.06, 0.1), 0.0) == 1.0


@pytest.mark.parametrize("celsius", [0.0, 20.0, 40.0, 60.0])
def test_viscosity_is_near_coolprops(celsius: float) -> None:
    """Half a percent, which moves a coefficient by less than a hundredth of that."""
    kelvin = celsius + 273.15
    wanted = CoolProp.PropsSI("V", "T", kelvin, "P", 101325.0, "Air")
    assert air_viscosity(kelvin) == pytest.approx(wanted, rel=6e-3)


@pytest.mark.source("US Standard Atmosphere, 1976, by fluids: Sutherland's law")
def test_viscosity_is_the_standard_atmosphere_s() -> None:
    """To 1e-4: its constants are rounded to four digits here."""
    for kelvin in (253.15, 293.15, 323.15):
        wanted = ATMOSPHERE_1976.viscosity(kelvin)
        assert air_viscosity(kelvin) == pytest.approx(wanted, rel=1e-4)


def test_a_coefficient_of_its_own_is_bernoulli() -> None:
    """By hand: 0.6 of 10 cm2 at 1000 Pa in air of 1.2 kg/m3 passes 0.0293939 kg/s."""
    answer = mass_flow(OwnElement(0.6, 1e-3), 1000.0, MeteredAir(101325.0, 293.15, 1.2))
    assert answer == pytest.approx(0.6e-3 * 2400.0**0.5, rel=1e-12)


def test_air_at_the_meter_is_an_ideal_gas() -> None:
    """CoolProp's air from 20 to 35 °C and from 101325 to 94350 Pa, to a part in 5000."""
    before = CoolProp.PropsSI("D", "T", 293.15, "P", 101325.0, "Air")
    after = CoolProp.PropsSI("D", "T", 308.15, "P", 94350.0, "Air")
    answer = density_at_meter(before, 101325.0, 293.15, 94350.0, 308.15)
    assert answer == pytest.approx(after, rel=2e-4)


@pytest.mark.parametrize(("kind", "factor"), [(MeterKind.VOLUME, 293.15 / 308.15),
                                              (MeterKind.RESTRICTION, 1 / 1.025265)])  # fmt: skip
def test_warm_air_at_the_meter(kind: MeterKind, factor: float) -> None:
    """At a fixed pressure difference volume flow goes with sqrt(T): 20 to 35 °C 1.025265."""
    assert meter_air_correction(kind, 293.15 / 308.15) == pytest.approx(factor, rel=1e-6)


@pytest.mark.parametrize(
    ("element", "flow", "words"),
    [
        (StandardElement(ElementKind.CORNER, 0.060, 0.100), 0.11, ""),
        (StandardElement(ElementKind.CORNER, 0.030, 0.040), 0.11, "the pipe, 40.0 mm"),
        (StandardElement(ElementKind.CORNER, 0.080, 0.100), 0.11, "ratio, 0.800"),
        (StandardElement(ElementKind.RADIUS, 0.010, 0.060), 0.11, "below the 12.5 mm"),
        (StandardElement(ElementKind.CORNER, 0.060, 0.100), 0.004, "Reynolds number"),
        (StandardElement(ElementKind.LONG_RADIUS, 0.060, 0.700), 0.11, "the pipe, 700.0 mm"),
        (OwnElement(0.6, 1e-3), 1e-9, ""),
    ],
)
def test_what_lies_outside_the_standard_is_said(element, flow: float, words: str) -> None:
    """Limits of ISO 5167: D 50 to 1000 mm, ratio 0.1 to 0.75, Reynolds number from 5000."""
    output = list(outside_standard(element, flow, AIR))
    assert any(words in text for text in output) if words else output == []


@pytest.mark.parametrize(
    ("kind", "ratio", "percent"),
    [
        (ElementKind.CORNER, 0.15, 0.55),
        (ElementKind.CORNER, 0.5, 0.5),
        (ElementKind.FLANGE, 0.7, 0.6669),
        (ElementKind.ISA_1932, 0.5, 0.8),
        (ElementKind.ISA_1932, 0.7, 1.0),
        (ElementKind.LONG_RADIUS, 0.5, 2.0),
    ],
)
def test_the_standards_own_uncertainty(kind: ElementKind, ratio: float, percent: float) -> None:
    """ISO 5167-2, 5.3.3.1 and ISO 5167-3: values from memory, at 95 %."""
    element = StandardElement(kind, ratio * 0.1, 0.1)
    assert 200.0 * coefficient_uncertainty(element, 1e5) == pytest.approx(percent, rel=1e-4)
