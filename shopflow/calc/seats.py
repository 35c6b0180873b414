"""Cuts of a valve seat, from the chamber to the throat: diameters, widths, depths, the contact.

Angles are the trade's: between the face of a cut and the plane of the seat, which is square to the
valve's axis. A 30° top cut is flatter than a 45° seat, a 75° cut below it steeper; 90° is a
cylinder. Lengths are in m, angles in rad.

Each cut is a cone. In a section through the axis its face is a straight line of width w, the
hypotenuse of a right triangle whose other sides are w cos θ along the radius and w sin θ along the
axis. So, with Do at its chamber edge and Di at its throat edge:

    Do − Di = 2 w cos θ          depth = w sin θ

Cuts adjoin: the throat edge of each is the chamber edge of the next. One outer diameter, and a
width or outer diameter for every other edge, then give all of them.
"""

from __future__ import annotations

import math
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, field

from shopflow.calc.seat_cuts import (
    RIGHT_ANGLE,
    TOLERANCE,
    Cut,
    Fit,
    angle_faults,
    edge_diameters,
    edge_faults,
    missing_sizes,
)
from shopflow.calc.seat_faults import SeatError, SeatFault, Slip


@dataclass(frozen=True, slots=True)
class Face:
    """A cut with all its sizes."""

    angle: float
    outer_diameter: float
    inner_diameter: float
    width: float
    """Along the face, from edge to edge as if nothing were rounded."""

    top: float
    """Depth of its chamber edge below that of the first cut."""

    outer_blend: float = 0.0
    """Width that the radius at its chamber edge takes from it."""

    inner_blend: float = 0.0
    blend_radius: float | None = None
    is_contact: bool = False

    @property
    def radial_width(self) -> float:
        """Width seen along the valve's axis, (Do − Di) ÷ 2."""
        return (self.outer_diameter - self.inner_diameter) / 2

    @property
    def depth(self) -> float:
        """Height along the valve's axis, w sin θ."""
        return self.width * math.sin(self.angle)

    @property
    def flat_width(self) -> float:
        """Width that its radii leave straight."""
        return self.width - self.outer_blend - self.inner_blend

    @property
    def flat_outer_diameter(self) -> float:
        """Diameter at which its straight part begins."""
        return self.outer_diameter - 2 * self.outer_blend * math.cos(self.angle)

    @property
    def flat_inner_diameter(self) -> float:
        """Diameter at which its straight part ends."""
        return self.inner_diameter + 2 * self.inner_blend * math.cos(self.angle)


@dataclass(frozen=True)
class Seat:
    """A seat with all sizes of its cuts, and the valve on it."""

    faces: tuple[Face, ...]
    fit: Fit = field(default_factory=Fit)

    @property
    def contact(self) -> Face:
        """The cut that carries the valve."""
        return next(face for face in self.faces if face.is_contact)

    @property
    def contact_mean_diameter(self) -> float:
        """Mean diameter of the straight part of the contact, midway between its two edges."""
        contact = self.contact
        return (contact.flat_outer_diameter + contact.flat_inner_diameter) / 2

    @property
    def contact_position(self) -> float | None:
        """Along the valve's face from below the margin to the contact, (Dv − Do) ÷ (2 cos θ).

        The valve's face is taken to be cut at the seat's angle: an interference angle of half a
        degree moves it by less than a hundredth of itself.
        """
        diameter, contact = self.fit.head_diameter, self.contact
        if diameter is None:
            return None
        return (diameter - contact.flat_outer_diameter) / (2 * math.cos(contact.angle))

    @property
    def contact_depth(self) -> float | None:
        """Along the axis from the face of the valve's head to the contact, m + p sin θ."""
        position, margin = self.contact_position, self.fit.margin
        if position is None or margin is None:
            return None
        return margin + position * math.sin(self.contact.angle)

    @property
    def is_inside_valve(self) -> bool:
        """False where the valve's edge lies within the contact: it seats on its margin."""
        position = self.contact_position
        return position is None or position >= -TOLERANCE

    @property
    def throat_diameter(self) -> float:
        """The throat as measured, else where the last cut ends."""
        stated = self.fit.throat_diameter
        return self.faces[-1].inner_diameter if stated is None else stated

    @property
    def throat_ratio(self) -> float | None:
        """Throat diameter over valve head diameter; None where the valve is not recorded."""
        diameter = self.fit.head_diameter
        return None if diameter is None else self.throat_diameter / diameter

    @property
    def depth(self) -> float:
        """Height of all cuts along the axis."""
        return self.faces[-1].top + self.faces[-1].depth


def cut_seat(cuts: Sequence[Cut], fit: Fit | None = None) -> Seat:
    """Every size of a seat from its cuts, first to last from the chamber to the throat.

    Parameters
    ----------
    cuts : at least one, exactly one of them the contact; angles above 0 up to a right angle,
        widths, diameters and radii above 0
    fit : the valve and the throat, where recorded

    Raises
    ------
    SeatError
        with every reason why no metal can have this shape

    Examples
    --------
    A seat of 45° and 1.5 mm under a 30° top cut of 1 mm and over a 60° bottom cut of 2 mm, its
    outer diameter 43 mm. By hand, cos 30° = 0.866025, cos 45° = 0.707107, cos 60° = 0.5: the top
    cut begins at 43 + 2 × 0.866025 = 44.7321 mm, the seat ends at 43 − 3 × 0.707107 = 40.8787 mm,
    the bottom cut at 40.8787 − 2 = 38.8787 mm.

    >>> from shopflow.calc.seat_cuts import Cut, Fit
    >>> angles, widths = (30, 45, 60), (1e-3, 1.5e-3, 2e-3)
    >>> cuts = [
    ...     Cut(math.radians(angle), width, 43e-3 if angle == 45 else None, None, angle == 45)
    ...     for angle, width in zip(angles, widths)
    ... ]
    >>> seat = cut_seat(cuts, Fit(44.5e-3, 1.2e-3))
    >>> [round(1e3 * face.outer_diameter, 4) for face in seat.faces]
    [44.7321, 43.0, 40.8787]

    The valve of 44.5 mm touches it 1.5 ÷ (2 × 0.707107) = 1.0607 mm down its face, at a mean
    diameter of 43 − 1.5 × 0.707107 = 41.9393 mm.

    >>> round(1e3 * seat.contact_position, 4), round(1e3 * seat.contact_mean_diameter, 4)
    (1.0607, 41.9393)
    """
    fit = fit or Fit()
    faults = list(angle_faults(cuts))
    if faults:
        raise SeatError(faults)
    edges = edge_diameters(cuts, fit)
    faults = [*missing_sizes(cuts, edges)] or [*edge_faults(cuts, edges, fit)]
    if faults:
        raise SeatError(faults)
    seat = Seat(tuple(_faces(cuts, [edge for edge in edges if edge is not None])), fit)
    faults = [*_blend_faults(seat), *_throat_faults(seat)]
    if faults:
        raise SeatError(faults)
    return seat


def tangent_length(radius: float, turn: float) -> float:
    """Width that a radius takes from each of two faces, r tan(turn ÷ 2).

    The radius touches both faces; its centre, the edge and a point of touch are a right triangle
    with half the turn between the faces at the centre.

    Examples
    --------
    A radius of 1 mm between 45° and 60°, tan 7.5° = 0.131652:

    >>> round(tangent_length(1.0, math.radians(15)), 6)
    0.131652
    """
    return radius * math.tan(turn / 2)


def _faces(cuts: Sequence[Cut], edges: Sequence[float]) -> Iterator[Face]:
    top, outer_blend = 0.0, 0.0
    angles = [*(cut.angle for cut in cuts), RIGHT_ANGLE]
    for index, cut in enumerate(cuts):
        outer, inner = edges[index], edges[index + 1]
        width = (outer - inner) / (2 * math.cos(cut.angle)) if cut.width is None else cut.width
        turn = max(angles[index + 1] - cut.angle, 0.0)
        inner_blend = tangent_length(cut.blend_radius or 0.0, turn)
        face = Face(
            cut.angle, outer, inner, width, top, outer_blend, inner_blend, cut.blend_radius,
            cut.is_contact,
        )  # fmt: skip
        yield face
        top, outer_blend = top + face.depth, inner_blend


def _blend_faults(seat: Seat) -> Iterator[SeatFault]:
    for index, face in enumerate(seat.faces):
        if face.flat_width <= 0:
            owner = index if face.blend_radius else index - 1
            yield SeatFault(Slip.BLEND, owner, (face.width,), index)


def _throat_faults(seat: Seat) -> Iterator[SeatFault]:
    ends = seat.faces[-1].inner_diameter
    if seat.throat_diameter > ends + TOLERANCE:
        yield SeatFault(Slip.THROAT, None, (seat.throat_diameter, ends))
