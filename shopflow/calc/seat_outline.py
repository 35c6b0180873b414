"""Outline of a seat and its valve in a section through the axis, for drawings to scale.

Points are (radius, depth) in m: the radius from the valve's axis, the depth from the chamber edge
of the first cut towards the port.
"""

from __future__ import annotations

import math
from collections.abc import Iterator
from dataclasses import dataclass

from shopflow.calc.seat_cuts import RIGHT_ANGLE
from shopflow.calc.seats import Face, Seat

Point = tuple[float, float]

ARC_STEP = math.radians(2.0)
"""Turn between two points of a radius: finer than a pen draws."""


@dataclass(frozen=True)
class FaceLine:
    """The straight part of a cut."""

    outer: Point
    inner: Point


def face_line(face: Face) -> FaceLine:
    """The straight part of a cut, between the radii at its edges."""
    start = _along(face, face.outer_blend)
    return FaceLine(start, _along(face, face.width - face.inner_blend))


def outline(seat: Seat) -> list[Point]:
    """The seat's surface from the chamber edge of the first cut to the throat's edge.

    Examples
    --------
    >>> from shopflow.calc.seat_cuts import Cut
    >>> from shopflow.calc.seats import cut_seat
    >>> cuts = [Cut(math.radians(45), 2e-3 * math.sqrt(2), 44e-3, is_contact=True)]
    >>> points = outline(cut_seat(cuts))
    >>> [(round(1e3 * radius, 6), round(1e3 * depth, 6)) for radius, depth in points]
    [(22.0, 0.0), (20.0, 2.0)]
    """
    points: list[Point] = []
    angles = [*(face.angle for face in seat.faces[1:]), RIGHT_ANGLE]
    for face, following in zip(seat.faces, angles, strict=True):
        line = face_line(face)
        points += [line.outer, line.inner]
        if face.blend_radius:
            points += _arc(line.inner, face.angle, following, face.blend_radius)
    return points


def valve_outline(seat: Seat, within: float) -> list[Point]:
    """The valve's face from the radius `within` out to its edge, its rim and the face of its head.

    Empty where its diameter is not recorded; it ends at the edge of the rim without a margin.
    """
    diameter, contact = seat.fit.head_diameter, seat.contact
    if diameter is None:
        return []
    slope = math.tan(contact.angle)
    edge = diameter / 2

    def depth_at(radius: float) -> float:
        return contact.top + (contact.outer_diameter / 2 - radius) * slope

    points = [(within, depth_at(within)), (edge, depth_at(edge))]
    if seat.fit.margin is not None:
        top = depth_at(edge) - seat.fit.margin
        points += [(edge, top), (within, top)]
    return points


def _along(face: Face, distance: float) -> Point:
    """The point of a face at a distance from its chamber edge."""
    radius = face.outer_diameter / 2 - distance * math.cos(face.angle)
    return radius, face.top + distance * math.sin(face.angle)


def _arc(start: Point, angle: float, following: float, radius: float) -> Iterator[Point]:
    """Points of a radius that touches two faces; its centre lies in the metal."""
    centre = (start[0] + radius * math.sin(angle), start[1] + radius * math.cos(angle))
    steps = max(1, math.ceil((following - angle) / ARC_STEP))
    for step in range(1, steps + 1):
        turn = angle + (following - angle) * step / steps
        yield centre[0] - radius * math.sin(turn), centre[1] - radius * math.cos(turn)
