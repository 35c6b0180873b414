"""Areas a poppet valve opens, and the reference areas of discharge coefficients."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.array_types import Array


@dataclass(frozen=True, slots=True)
class Seat:
    """The seat and what is behind it. Lengths in m.

    `angle` is in radians from the plane of the valve head; `width` is measured on the cone face.
    """

    stem_diameter: Array
    angle: Array
    width: Array
    throat_diameter: Array


@dataclass(frozen=True, slots=True)
class Valve:
    """One valve, or `count` alike that open together on a port. Diameter in m."""

    head_diameter: float
    count: int = 1
    seat: Seat | None = None


def curtain_area(head_diameter: Array, lift: Array) -> Array:
    """Curtain area of one valve, π D L.

    Parameters
    ----------
    head_diameter : D, m
    lift : L, m

    Returns
    -------
    area of the cylinder between the valve head's rim and its seat, m2

    Examples
    --------
    At L = D/4 it equals the area of the head:

    >>> round(float(curtain_area(0.044, 0.011)) * 1e6, 2)
    1520.53
    """
    return np.pi * head_diameter * lift


def head_area(head_diameter: Array) -> Array:
    """Area of one valve head, π D²/4.

    Parameters
    ----------
    head_diameter : D, m

    Returns
    -------
    m2

    Examples
    --------
    >>> round(float(head_area(0.044)) * 1e6, 2)
    1520.53
    """
    return np.pi * head_diameter**2 / 4.0


def port_area_at_stem(throat_diameter: Array, stem_diameter: Array) -> Array:
    """Area of the throat less the stem, π/4 (Dp² − Ds²).

    Parameters
    ----------
    throat_diameter : Dp, m
    stem_diameter : Ds, m

    Returns
    -------
    m2

    Examples
    --------
    A throat of 39 mm with a stem of 7 mm, by hand 1156.1061 mm2:

    >>> round(float(port_area_at_stem(0.039, 0.007)) * 1e6, 4)
    1156.1061
    """
    return np.pi / 4.0 * (throat_diameter**2 - stem_diameter**2)


def seat_circle_area(head_diameter: Array, seat: Seat) -> Array:
    """Area of the circle at the seat's inner edge, π/4 (D − 2w)².

    Parameters
    ----------
    head_diameter : D, m, taken as the seat's outer diameter
    seat : of which the width and the angle are used; w is the width projected on the radius

    Returns
    -------
    m2, the stem not taken off

    Examples
    --------
    A valve of 44 mm on a seat of 1.5 mm projected: a circle of 41 mm, by hand 1320.2543 mm2:

    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> round(float(seat_circle_area(0.044, seat)) * 1e6, 4)
    1320.2543
    """
    return np.pi / 4.0 * (head_diameter - 2.0 * seat.width * np.cos(seat.angle)) ** 2


def seat_opening_area(head_diameter: Array, seat: Seat, lift: Array) -> Array:
    r"""Least area between one valve and its seat, without regard to what is behind them.

    With w the seat's width projected on the radius, β its angle and D_m = D − w:

    1. the slant between valve and seat cones, to lift L1 = w/(sin β cos β):
       A = π L cos β (D − 2w + (L/2) sin 2β)
    2. the slant between the seat's edges: A = π D_m sqrt((L − w tan β)² + w²)

    Parameters
    ----------
    head_diameter : D, m
    seat : angle in radians, cone-face width and diameters in m
    lift : L, m

    Returns
    -------
    area, m2; it rises with the lift

    Notes
    -----
    Source: Heywood (1988), section 6.3.2 (from memory); derived afresh.

    Examples
    --------
    D 44, w 1.5 (projected), 45 degrees, at 2 and at 12 mm; the throat is not asked:

    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> [round(float(seat_opening_area(0.044, seat, lift)) * 1e6, 4) for lift in (0.002, 0.012)]
    [186.6011, 1416.1689]
    """
    w = seat.width * np.cos(seat.angle)
    sine, cosine = np.sin(seat.angle), np.cos(seat.angle)
    slant = np.pi * lift * cosine * (head_diameter - 2.0 * w + lift * sine * cosine)
    edges = np.pi * (head_diameter - w) * np.hypot(lift - w * np.tan(seat.angle), w)
    return np.where(lift <= w / (sine * cosine), slant, edges)


def least_valve_area(head_diameter: Array, seat: Seat, lift: Array) -> Array:
    r"""Least geometric flow area of one poppet valve, in its three stages of lift.

    The opening between valve and seat of `seat_opening_area`, in two stages, and beyond them the
    throat less the stem, which caps both.

    Parameters
    ----------
    head_diameter : D, m
    seat : angle in radians, cone-face width and diameters in m
    lift : L, m

    Returns
    -------
    area, m2

    Notes
    -----
    Geometry only: it says what area is there, not what flows.
    Source: Heywood (1988), section 6.3.2 (from memory); derived afresh.

    Examples
    --------
    D 44, w 1.5 (projected), throat 39, stem 7 mm, 45 degrees, at 5 mm: 508.4202 mm2, the same as
    a brute-force search for the least distance between the two seats.

    >>> seat = Seat(0.007, np.pi / 4, 0.0015 / np.cos(np.pi / 4), 0.039)
    >>> round(float(least_valve_area(0.044, seat, 0.005)) * 1e6, 4)
    508.4202
    """
    throat = port_area_at_stem(seat.throat_diameter, seat.stem_diameter)
    return np.minimum(seat_opening_area(head_diameter, seat, lift), throat)
