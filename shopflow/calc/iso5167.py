"""Limits of ISO 5167 for a metering element, departures from them, and the uncertainty."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from math import hypot

from shopflow.calc.air import GAMMA
from shopflow.calc.metering import (
    PLATES,
    Element,
    ElementKind,
    MeteredAir,
    OwnElement,
    StandardElement,
    air_viscosity,
    mass_flow,
    pipe_reynolds,
)
from shopflow.texts import gettext

SMALL_PIPE = 71.12e-3
"""m, below which a plate's coefficient is less well known."""

PIPE_BORE, ELEMENT_BORE = 0.4e-2, 0.07e-2
"""Relative uncertainty at 95 % of both bores, where they are as the standard wants them (ISO
5167-1:2003, 8.2.2.2, values from memory)."""


@dataclass(frozen=True, slots=True)
class ElementUncertainty:
    """Relative standard uncertainties of the flow that an element brings into it."""

    coefficient: float
    diameters: float
    expansion: float


def element_uncertainty(
    element: Element, least_drop: float, largest_drop: float, air: MeteredAir
) -> ElementUncertainty:
    """Uncertainty of the flow through an element by ISO 5167; none for a coefficient of its own.

    Parameters
    ----------
    element : in its pipe
    least_drop, largest_drop : the smallest and largest pressure difference read across it, Pa
    air : upstream of the element

    Returns
    -------
    ElementUncertainty: the coefficient's at the smallest reading and the expansion's at the
    largest, where each is known least

    Notes
    -----
    Diameters: 2β⁴/(1 − β⁴) of the pipe's and 2/(1 − β⁴) of the element's (ISO 5167-1:2003,
    8.2.2.1). Expansion: 3.5 Δp/(κ p1) % for plates (ISO 5167-2:2003, 5.3.3.2), 2 Δp/p1 % for
    nozzles (ISO 5167-3:2003, 5.1.7.2 and 5.2.7.2, value from memory). All at 95 %, so halved.
    """
    if isinstance(element, OwnElement):
        return ElementUncertainty(0.0, 0.0, 0.0)
    viscosity = air_viscosity(air.temperature)
    passed = mass_flow(element, least_drop, air)
    reynolds = float(pipe_reynolds(passed, element.pipe_diameter, viscosity))
    fourth = element.ratio**4
    diameters = hypot(2.0 * fourth * PIPE_BORE, 2.0 * ELEMENT_BORE) / (1.0 - fourth)
    drop = largest_drop / air.pressure
    percent = 3.5 * drop / GAMMA if element.kind in PLATES else 2.0 * drop
    return ElementUncertainty(
        coefficient_uncertainty(element, reynolds), diameters / 2.0, percent / 100.0 / 2.0
    )


def coefficient_uncertainty(element: StandardElement, reynolds: float) -> float:
    """Relative standard uncertainty of the standard's coefficient.

    Half of what ISO 5167-2, 5.3.3.1 (values up to β 0.6 from memory, the rest seen in an open
    copy) and ISO 5167-3, 5.1.7.1 and 5.2.7.1 (from memory) state at 95 %; outside
    their range of β what they state at its nearer end.

    >>> plate = StandardElement(ElementKind.CORNER, 0.0254, 0.0508)
    >>> round(200 * coefficient_uncertainty(plate, 20_000), 4)
    0.68
    """
    beta = min(max(element.ratio, 0.1), 0.75)
    if element.kind is ElementKind.LONG_RADIUS:
        percent = 2.0
    elif element.kind is ElementKind.ISA_1932:
        percent = 0.8 if beta <= 0.6 else 2.0 * beta - 0.4
    else:
        percent = _plate_percent(beta, element.pipe_diameter, reynolds)
    return percent / 100.0 / 2.0


def _plate_percent(beta: float, pipe: float, reynolds: float) -> float:
    """Of an orifice plate's coefficient at 95 %: the standard adds its terms up."""
    percent = 0.7 - beta if beta < 0.2 else 0.5 if beta <= 0.6 else 1.667 * beta - 0.5
    if pipe < SMALL_PIPE:
        percent += 0.9 * (0.75 - beta) * (2.8 - pipe / 0.0254)
    if beta > 0.5 and reynolds < 10_000.0:
        percent += 0.5
    return percent


def outside_standard(element: Element, least_flow: float, air: MeteredAir) -> Iterator[str]:
    """Departures of an element from ISO 5167's limits, in words; none for one of its own.

    Parameters
    ----------
    element : in its pipe
    least_flow : mass flow at the smallest reading, kg/s
    air : upstream of the element
    """
    if isinstance(element, OwnElement):
        return
    viscosity = air_viscosity(air.temperature)
    least_reynolds = float(pipe_reynolds(least_flow, element.pipe_diameter, viscosity))
    plate = element.kind in PLATES
    pipe, beta = element.pipe_diameter, element.ratio
    low, high = _BETA[element.kind]
    if not 0.05 <= pipe <= _LARGEST_PIPE[element.kind]:
        yield gettext(
            "the pipe, {pipe:.1f} mm, is outside the sizes ISO 5167 covers", pipe=pipe * 1000.0
        )
    if not low <= beta <= high:
        yield gettext(
            "the diameter ratio, {beta:.3f}, is outside {low} to {high}, which ISO 5167 covers",
            beta=beta,
            low=low,
            high=high,
        )
    if plate and element.diameter < 0.0125:
        yield gettext(
            "the bore, {diameter:.1f} mm, is below the 12.5 mm of ISO 5167",
            diameter=element.diameter * 1000.0,
        )
    limit = _LEAST_REYNOLDS[element.kind](element)
    if least_reynolds < limit:
        yield (
            gettext(
                "the Reynolds number at the smallest reading, {least_reynolds:.0f}, is "
                "below the {limit:.0f} of ISO 5167",
                least_reynolds=least_reynolds,
                limit=limit,
            )
        )


_BETA = {
    ElementKind.CORNER: (0.1, 0.75),
    ElementKind.FLANGE: (0.1, 0.75),
    ElementKind.RADIUS: (0.1, 0.75),
    ElementKind.ISA_1932: (0.3, 0.8),
    ElementKind.LONG_RADIUS: (0.2, 0.8),
}
_LARGEST_PIPE = {
    ElementKind.CORNER: 1.0,
    ElementKind.FLANGE: 1.0,
    ElementKind.RADIUS: 1.0,
    ElementKind.ISA_1932: 0.5,
    ElementKind.LONG_RADIUS: 0.63,
}
_LEAST_REYNOLDS: dict[ElementKind, Callable[[StandardElement], float]] = {
    ElementKind.CORNER: lambda e: 5000.0 if e.ratio <= 0.56 else max(5000.0, 16e3 * e.ratio**2),
    ElementKind.RADIUS: lambda e: 5000.0 if e.ratio <= 0.56 else max(5000.0, 16e3 * e.ratio**2),
    ElementKind.FLANGE: lambda e: max(5000.0, 170e3 * e.ratio**2 * e.pipe_diameter),
    ElementKind.ISA_1932: lambda e: 70e3 if e.ratio < 0.44 else 20e3,
    ElementKind.LONG_RADIUS: lambda e: 10e3,
}
"""ISO 5167-2:2003, 5.3.1 and ISO 5167-3:2003, 5.1.6.1 and 5.2.6.1 (values from memory)."""
