"""Metering elements against the fluids library's own ISO 5167, and worked figures."""

from __future__ import annotations

import pytest
from CoolProp.CoolProp import PropsSI
from fluids import flow_meter

from shopflow.calc.meterair import MeterKind, density_at_meter, meter_air_correction
from shopflow.calc.metering import (
    ElementKind,
    MeteredAir,
    StandardElement,
    air_viscosity,
    discharge_coefficient,
    expansibility,
    mass_flow,
    pipe_reynolds,
)

AIR = MeteredAir(101325.0, 293.15, 1.204118)
# D 100, d 60 mm, Δp 1500 Pa: C, kg/s, and the library's names.
CASES = {
    ElementKind.CORNER: (0.611296, 0.1108756, "ISO 5167 orifice", "corner"),
    ElementKind.FLANGE: (0.611779, 0.1109632, "ISO 5167 orifice", "flange"),
    ElementKind.RADIUS: (0.612699, 0.1111300, "ISO 5167 orifice", "D and D/2"),
    ElementKind.ISA_1932: (0.959506, 0.1731105, "ISA 1932 nozzle", None),
    ElementKind.LONG_RADIUS: (0.982162, 0.1771980, "long radius nozzle", None),
}
each_case = pytest.mark.parametrize(
    ("kind", "coefficient", "flow", "meter", "taps"),
    [(kind, *case) for kind, case in CASES.items()],
    ids=CASES.keys(),
)


@pytest.mark.source("ISO 5167-2 and -3, worked through fluids 1.3.1 at µ 1.813e-5 Pa s")
@each_case
def test_a_60_mm_element_in_a_100_mm_pipe(
    kind: ElementKind, coefficient: float, flow: float, meter: str, taps: str | None
) -> None:
    element = StandardElement(kind, 0.060, 0.100)
    answer = float(mass_flow(element, 1500.0, AIR))
    assert answer == pytest.approx(flow, rel=3e-6)
    reynolds = pipe_reynolds(flow, 0.100, 1.813e-5)
    assert discharge_coefficient(element, reynolds) == pytest.approx(coefficient, abs=1e-6)


@pytest.mark.source("fluids, differential_pressure_meter_solver (ISO 5167-2 and -3)")
@pytest.mark.parametrize("sizes", [(0.030, 0.100), (0.070, 0.100), (0.030, 0.060), (0.25, 0.5)])
@each_case
def test_elements_of_other_sizes_agree_with_the_library(
    kind: ElementKind, coefficient: float, flow: float, meter: str, taps: str | None,
    sizes: tuple[float, float],
) -> None:  # fmt: skip
    bore, pipe = sizes
    viscosity = float(air_viscosity(293.15))
    for difference in (400.0, 2500.0, 6000.0):
        expected = flow_meter.differential_pressure_meter_solver(
            D=pipe, D2=bore, P1=101325.0, P2=101325.0 - difference, rho=1.204118, mu=viscosity,
            k=1.4, meter_type=meter, taps=taps,
        )  # fmt: skip
        answer = float(mass_flow(StandardElement(kind, bore, pipe), difference, AIR))
        assert answer == pytest.approx(expected, rel=1e-9)


@pytest.mark.source("ISO 5167-2, 5.3.2.2, by hand: ε 0.995763")
def test_the_expansibility_of_a_plate() -> None:
    plate = StandardElement(ElementKind.CORNER, 0.060, 0.100)
    assert float(expansibility(plate, 1500 / 101325)) == pytest.approx(0.995763, abs=6e-7)


@pytest.mark.source("CoolProp, viscosity of air (Lemmon and Jacobsen)")
@pytest.mark.parametrize("temperature", [283.15, 293.15, 308.15])
def test_the_viscosity_of_air(temperature: float) -> None:
    """Sutherland's formula is within half a percent; the flow feels a thousandth of it."""
    real = PropsSI("V", "T", temperature, "P", 101325.0, "Air")
    assert air_viscosity(temperature) == pytest.approx(real, rel=6e-3)


@pytest.mark.source("CoolProp: densities of real air at the room's and the meter's state")
def test_the_density_at_the_meter() -> None:
    states = [(101325.0, 293.15), (95000.0, 308.15)]
    room, meter = (PropsSI("D", "P", p, "T", t, "Air") for p, t in states)
    answer = density_at_meter(room, *states[0], *states[1])
    assert answer == pytest.approx(meter, rel=3e-4)
    ratio = answer / room
    assert meter_air_correction(MeterKind.VOLUME, ratio) == pytest.approx(meter / room, rel=3e-4)
    assert meter_air_correction(MeterKind.RESTRICTION, ratio) == pytest.approx(
        (meter / room) ** 0.5, rel=3e-4
    )
