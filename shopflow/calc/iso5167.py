"""Where ISO 5167 covers a metering element, and what lies outside it."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from shopflow.calc.metering import (
    PLATES,
    Element,
    ElementKind,
    MeteredAir,
    OwnElement,
    StandardElement,
    air_viscosity,
    pipe_reynolds,
)


def outside_standard(element: Element, least_flow: float, air: MeteredAir) -> Iterator[str]:
    """What puts an element outside ISO 5167's limits, in words; nothing for one of its own.

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
        yield f"the pipe, {pipe * 1e3:.1f} mm, is outside the sizes ISO 5167 covers"
    if not low <= beta <= high:
        yield f"the diameter ratio, {beta:.3f}, is outside {low} to {high}, which ISO 5167 covers"
    if plate and element.diameter < 0.0125:
        yield f"the bore, {element.diameter * 1e3:.1f} mm, is below the 12.5 mm of ISO 5167"
    limit = _LEAST_REYNOLDS[element.kind](element)
    if least_reynolds < limit:
        yield (
            f"the Reynolds number at the smallest reading, {least_reynolds:.0f}, is below the "
            f"{limit:.0f} of ISO 5167"
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
