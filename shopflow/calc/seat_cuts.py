"""Seat cuts as stated, and the diameters of all their edges, or why there can be none."""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from shopflow.calc.seat_faults import SeatFault, Slip

RIGHT_ANGLE = math.pi / 2
TOLERANCE = 0.05e-3
"""Within it a diameter that is stated and one that follows from a width agree: two thousandths of
an inch, what a scribed or blued edge can be read to. Common practice, no source."""

MOST_COMMON = math.pi / 4
"""Angle of most seats. Common practice, no source."""


@dataclass(frozen=True, slots=True)
class Cut:
    """One cut as stated: its angle, and a width along its face or an outer diameter, or both."""

    angle: float
    width: float | None = None
    outer_diameter: float | None = None
    blend_radius: float | None = None
    """Radius that rounds its edge to the next cut; of the last cut, to the wall of the throat."""

    is_contact: bool = False
    """True of the cut that carries the valve."""


@dataclass(frozen=True, slots=True)
class Fit:
    """Valve and throat that a seat is cut for, each None where it is not recorded."""

    head_diameter: float | None = None
    margin: float | None = None
    """Height of the valve's rim above its face."""

    throat_diameter: float | None = None
    contact_position: float | None = None
    """Along the valve's face from its outer edge, below the margin, to the seat's outer edge."""


def suggested_contact(angles: Sequence[float]) -> int:
    """Index of the cut most likely to carry the valve: the nearest to 45°. Common practice.

    >>> suggested_contact([math.radians(angle) for angle in (15, 30, 45, 60, 75)])
    2
    """
    return min(range(len(angles)), key=lambda index: abs(angles[index] - MOST_COMMON))


def _reach(cut: Cut) -> float | None:
    """Difference of its two diameters, where its width or a right angle gives it."""
    if cut.angle >= RIGHT_ANGLE:
        return 0.0
    return None if cut.width is None else 2 * cut.width * math.cos(cut.angle)


def edge_diameters(cuts: Sequence[Cut], fit: Fit) -> list[float | None]:
    """Diameter of every edge, from the first cut's outer to the last cut's inner.

    None where neither a stated diameter nor a chain of widths leads to it.
    """
    edges: list[float | None] = [cut.outer_diameter for cut in cuts]
    edges.append(fit.throat_diameter if _reach(cuts[-1]) is None else None)
    contact = _contact(cuts)
    if edges[contact] is None:
        edges[contact] = _at_position(cuts[contact], fit)
    for index in reversed(range(len(cuts))):
        inner, reach = edges[index + 1], _reach(cuts[index])
        if edges[index] is None and inner is not None and reach is not None:
            edges[index] = inner + reach
    for index, cut in enumerate(cuts):
        outer, reach = edges[index], _reach(cut)
        if edges[index + 1] is None and outer is not None and reach is not None:
            edges[index + 1] = outer - reach
    return edges


def _contact(cuts: Sequence[Cut]) -> int:
    return next(index for index, cut in enumerate(cuts) if cut.is_contact)


def _at_position(cut: Cut, fit: Fit) -> float | None:
    """Outer diameter of the contact at its position on the valve, Dv − 2 p cos θ."""
    if fit.head_diameter is None or fit.contact_position is None:
        return None
    return fit.head_diameter - 2 * fit.contact_position * math.cos(cut.angle)


def angle_faults(cuts: Sequence[Cut]) -> Iterator[SeatFault]:
    """Angles that no run of tools can leave, and a contact that is not one cut."""
    for index, cut in enumerate(cuts):
        if not 0 < cut.angle <= RIGHT_ANGLE:
            yield SeatFault(Slip.ANGLE, index)
        elif index and cut.angle <= cuts[index - 1].angle:
            yield SeatFault(Slip.NOT_STEEPER, index)
        elif cut.is_contact and cut.angle >= RIGHT_ANGLE:
            yield SeatFault(Slip.CONTACT_IS_CYLINDER, index)
    if sum(cut.is_contact for cut in cuts) != 1:
        yield SeatFault(Slip.NO_CONTACT)


def missing_sizes(cuts: Sequence[Cut], edges: Sequence[float | None]) -> Iterator[SeatFault]:
    """Cuts whose sizes follow from nothing that is stated."""
    if all(edge is None for edge in edges):
        yield SeatFault(Slip.NO_DIAMETER, _contact(cuts))
        return
    for index, cut in enumerate(cuts):
        is_last = index == len(cuts) - 1
        if cut.width is None and cut.angle >= RIGHT_ANGLE:
            yield SeatFault(Slip.NO_WIDTH, index)
        elif cut.width is None and None in (edges[index], edges[index + 1]):
            yield SeatFault(Slip.NO_THROAT if is_last else Slip.NO_SIZE, index)


def edge_faults(
    cuts: Sequence[Cut], edges: Sequence[float | None], fit: Fit
) -> Iterator[SeatFault]:
    """Cuts that overlap, leave a gap or reach past the axis, and a contact elsewhere."""
    for index, cut in enumerate(cuts):
        outer, inner = edges[index] or 0.0, edges[index + 1] or 0.0
        reach = _reach(cut)
        ends = inner if reach is None else outer - reach
        if inner <= 0:
            yield SeatFault(Slip.PAST_AXIS, index, (outer,))
        elif reach is None and inner >= outer:
            yield SeatFault(Slip.ORDER, index, (outer, inner))
        elif ends < inner - TOLERANCE:
            yield SeatFault(Slip.OVERLAP, index, (ends, inner))
        elif ends > inner + TOLERANCE:
            yield SeatFault(Slip.GAP, index, (ends, inner))
    contact = _contact(cuts)
    outer, placed = edges[contact] or 0.0, _at_position(cuts[contact], fit)
    if placed is not None and abs(placed - outer) > TOLERANCE:
        yield SeatFault(Slip.POSITION, None, (placed, outer))
