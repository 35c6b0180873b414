"""Metering elements: flow from the pressure difference across a plate or nozzle, after ISO 5167."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from enum import StrEnum

import numpy as np

from shopflow.calc.air import GAMMA
from shopflow.calc.array_types import Array
from shopflow.texts import gettext_noop

ROUNDS = 12
"""Times the coefficient is calculated again; each brings it a hundredfold nearer its value."""


class ElementKind(StrEnum):
    """Element across which the pressure difference is taken."""

    CORNER = gettext_noop("orifice plate, corner taps")
    FLANGE = gettext_noop("orifice plate, flange taps")
    RADIUS = gettext_noop("orifice plate, D and D/2 taps")
    ISA_1932 = gettext_noop("ISA 1932 nozzle")
    LONG_RADIUS = gettext_noop("long radius nozzle")
    OWN = gettext_noop("own coefficient")


@dataclass(frozen=True, slots=True)
class StandardElement:
    """An element in a pipe, its coefficient by ISO 5167; diameters in m."""

    kind: ElementKind
    diameter: float
    pipe_diameter: float

    @property
    def ratio(self) -> float:
        """Diameter ratio β."""
        return self.diameter / self.pipe_diameter


@dataclass(frozen=True, slots=True)
class OwnElement:
    """An element with a coefficient the shop found itself; area in m2.

    The coefficient holds everything: velocity of approach and expansion as they were when found.
    """

    coefficient: float
    area: float


Element = StandardElement | OwnElement


@dataclass(frozen=True, slots=True)
class MeteredAir:
    """Air just upstream of the element: absolute pressure Pa, temperature K, density kg/m3."""

    pressure: float
    temperature: float
    density: float


def air_viscosity(temperature: Array) -> Array:
    r"""Dynamic viscosity of air, by Sutherland's formula.

    .. math:: \mu = \mu_0 \left(\frac{T}{T_0}\right)^{3/2} \frac{T_0 + S}{T + S}

    Parameters
    ----------
    temperature : T, K

    Returns
    -------
    Pa s

    Notes
    -----
    Sutherland's law with S = 110.4 K and 1.458e-6 kg/(s m √K), which makes μ0 = 17.16 µPa s at
    T0 = 273.15 K. Source: US Standard Atmosphere, 1976, as the fluids library has it.

    Examples
    --------
    CoolProp has 18.21 µPa s at 20 °C:

    >>> round(float(air_viscosity(293.15)) * 1e6, 1)
    18.1
    """
    return 17.16e-6 * (temperature / 273.15) ** 1.5 * (273.15 + 110.4) / (temperature + 110.4)


def mass_flow(element: Element, pressure_difference: Array, air: MeteredAir) -> Array:
    r"""Mass flow through an element.

    .. math:: \dot m = \frac{C}{\sqrt{1-\beta^4}}\, \varepsilon\, \tfrac{\pi}{4} d^2
        \sqrt{2 \Delta p\, \rho_1}

    Parameters
    ----------
    element : what the difference is taken across
    pressure_difference : Δp across it, not negative and below the pressure upstream, Pa
    air : upstream of it

    Returns
    -------
    kg/s

    Notes
    -----
    Source: ISO 5167-1, 5.1 and ISO 5167-2, 5.3 (orifice plates), ISO 5167-3 (nozzles). With a
    coefficient of the shop's own, C A sqrt(2 Δp ρ1).

    Examples
    --------
    A 60 mm plate in a 100 mm pipe at 1500 Pa in room air (20 °C, 101325 Pa), corner taps;
    the fluids library has 0.11088 kg/s:

    >>> plate = StandardElement(ElementKind.CORNER, 0.060, 0.100)
    >>> air = MeteredAir(101325.0, 293.15, 1.204118)
    >>> round(float(mass_flow(plate, 1500.0, air)), 5)
    0.11088
    """
    ideal = np.sqrt(2.0 * pressure_difference * air.density)
    if isinstance(element, OwnElement):
        return element.coefficient * element.area * ideal
    beta = element.ratio
    area = np.pi / 4.0 * element.diameter**2
    expansion = expansibility(element, pressure_difference / air.pressure)
    approach = ideal * area * expansion / np.sqrt(1.0 - beta**4)
    viscosity = air_viscosity(air.temperature)
    coefficient: Array = 0.6
    for _ in range(ROUNDS):
        flow = coefficient * approach
        reynolds = pipe_reynolds(flow, element.pipe_diameter, viscosity)
        coefficient = discharge_coefficient(element, reynolds)
    return coefficient * approach


def pipe_reynolds(flow: Array, pipe_diameter: float, viscosity: Array) -> Array:
    """Reynolds number in the pipe, 4 m / (π D μ); at least 1, where the formulas still hold up."""
    return np.maximum(4.0 * flow / (np.pi * pipe_diameter * viscosity), 1.0)


def expansibility(element: StandardElement, drop: Array, kappa: float = GAMMA) -> Array:
    r"""Expansibility factor ε.

    .. math:: \varepsilon = 1 - (0.351 + 0.256\beta^4 + 0.93\beta^8)
        \left(1 - (p_2/p_1)^{1/\kappa}\right)

    for plates; for nozzles the isentropic formula of ISO 5167-3, 5.1.6.2.

    Parameters
    ----------
    element : in its pipe
    drop : Δp/p1, 0 to below 1
    kappa : isentropic exponent

    Returns
    -------
    dimensionless, 1 where nothing flows

    Examples
    --------
    >>> plate = StandardElement(ElementKind.CORNER, 0.060, 0.100)
    >>> round(float(expansibility(plate, 1500.0 / 101325.0)), 6)
    0.995763
    """
    beta = element.ratio
    tau = 1.0 - np.asarray(drop)
    if element.kind in PLATES:
        factor = 0.351 + 0.256 * beta**4 + 0.93 * beta**8
        return 1.0 - factor * (1.0 - tau ** (1.0 / kappa))
    with np.errstate(divide="ignore", invalid="ignore"):
        square = (
            kappa * tau ** (2.0 / kappa) / (kappa - 1.0)
            * (1.0 - beta**4) / (1.0 - beta**4 * tau ** (2.0 / kappa))
            * (1.0 - tau ** ((kappa - 1.0) / kappa)) / (1.0 - tau)
        )  # fmt: skip
    return np.where(tau < 1.0, np.sqrt(square), 1.0)


def discharge_coefficient(element: StandardElement, reynolds: Array) -> Array:
    """Discharge coefficient C at a Reynolds number of the pipe.

    Parameters
    ----------
    element : in its pipe
    reynolds : in the pipe, above 0

    Returns
    -------
    dimensionless

    Notes
    -----
    Plates: the equation of Reader-Harris and Gallagher, ISO 5167-2:2003, 5.3.2.1. Nozzles:
    ISO 5167-3:2003, 5.1.6.1 and 5.2.6.1.

    Examples
    --------
    >>> nozzle = StandardElement(ElementKind.LONG_RADIUS, 0.060, 0.100)
    >>> round(float(discharge_coefficient(nozzle, 121_000.0)), 4)
    0.982
    """
    return _COEFFICIENTS.get(element.kind, _plate)(element, reynolds)


def _plate(element: StandardElement, reynolds: Array) -> Array:
    """Reader-Harris/Gallagher (1998), with the term for pipes below 71.12 mm."""
    beta, pipe = element.ratio, element.pipe_diameter
    upstream, downstream = _TAPS[element.kind](pipe)
    a = (19_000.0 * beta / reynolds) ** 0.8
    dam = 2.0 * downstream / (1.0 - beta)
    return (
        0.5961
        + 0.0261 * beta**2
        - 0.216 * beta**8
        + 0.000521 * (1e6 * beta / reynolds) ** 0.7
        + (0.0188 + 0.0063 * a) * beta**3.5 * (1e6 / reynolds) ** 0.3
        + (0.043 + 0.080 * np.exp(-10.0 * upstream) - 0.123 * np.exp(-7.0 * upstream))
        * (1.0 - 0.11 * a)
        * beta**4
        / (1.0 - beta**4)
        - 0.031 * (dam - 0.8 * dam**1.1) * beta**1.3
        + 0.011 * (0.75 - beta) * max(2.8 - pipe / 0.0254, 0.0)
    )


def _isa_1932(element: StandardElement, reynolds: Array) -> Array:
    beta = element.ratio
    small = (0.00175 * beta**2 - 0.0033 * beta**4.15) * (1e6 / reynolds) ** 1.15
    return 0.9900 - 0.2262 * beta**4.1 - small


def _long_radius(element: StandardElement, reynolds: Array) -> Array:
    return 0.9965 - 0.00653 * np.sqrt(1e6 * element.ratio / reynolds)


_TAPS: dict[ElementKind, Callable[[float], tuple[float, float]]] = {
    ElementKind.CORNER: lambda pipe: (0.0, 0.0),
    ElementKind.FLANGE: lambda pipe: (0.0254 / pipe, 0.0254 / pipe),
    ElementKind.RADIUS: lambda pipe: (1.0, 0.47),
}
"""L1 and L'2: distances of the taps from the plate's faces over the pipe's diameter."""

PLATES = frozenset(_TAPS)
"""The elements that are orifice plates."""

_COEFFICIENTS: dict[ElementKind, Callable[[StandardElement, Array], Array]] = {
    ElementKind.ISA_1932: _isa_1932,
    ElementKind.LONG_RADIUS: _long_radius,
}
