"""Shape of a section of a port, beside its area: how flat, how far from round, how sharp the bend.

Width is measured across the bend of the port, height in the plane of the bend, from the short side
to the roof. All are means of the section: none says how the air is spread over it.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

ROUNDEST = 1.0
SLACK = 0.02
"""By how much a quotient may pass 1 and still be rounding of what was measured."""


@dataclass(frozen=True, slots=True)
class Shape:
    """Measurements of a section beside its area, SI; None where there is none."""

    width: float | None = None
    height: float | None = None
    perimeter: float | None = None
    short_side_radius: float | None = None

    def __bool__(self) -> bool:
        return any(
            value is not None
            for value in (self.width, self.height, self.perimeter, self.short_side_radius)
        )


@dataclass(frozen=True, slots=True)
class Form:
    """Results of a section's shape; None where what they need was not measured."""

    hydraulic_diameter: float | None
    """m"""

    aspect_ratio: float | None
    roundness: float | None
    bend_sharpness: float | None


def form_of(area: float, shape: Shape) -> Form:
    """Results of a section from its area and what was measured beside it.

    Parameters
    ----------
    area : m2
    shape : lengths in m

    Examples
    --------
    A 30 by 20 mm rectangle whose perimeter was not measured:

    >>> form_of(600e-6, Shape(width=0.030, height=0.020)).aspect_ratio
    1.5
    """
    perimeter, height = shape.perimeter, shape.height
    return Form(
        hydraulic_diameter(area, perimeter) if perimeter else None,
        aspect_ratio(shape.width, height) if shape.width and height else None,
        roundness(area, perimeter) if perimeter else None,
        bend_sharpness(shape.short_side_radius, height)
        if shape.short_side_radius is not None and height
        else None,
    )


def hydraulic_diameter(area: float, perimeter: float) -> float:
    r"""Diameter of a round duct with the same wetted wall for its area.

    .. math:: D_h = \frac{4A}{P}

    Parameters
    ----------
    area : m2
    perimeter : wetted perimeter, m

    Returns
    -------
    m

    Notes
    -----
    Source: Idelchik, Handbook of Hydraulic Resistance, section 1; definition. Meant for turbulent
    flow in ducts without sharp corners.

    Examples
    --------
    A 30 by 20 mm rectangle, 600 mm2 within 100 mm:

    >>> round(hydraulic_diameter(600e-6, 0.100) * 1e3, 6)
    24.0
    """
    return 4.0 * area / perimeter


def equivalent_diameter(area: float) -> float:
    r"""Diameter of the circle of the same area.

    .. math:: D = 2 \sqrt{A / \pi}

    Parameters
    ----------
    area : m2

    Returns
    -------
    m

    Notes
    -----
    Source: definition.

    Examples
    --------
    >>> round(equivalent_diameter(np.pi * 0.02**2), 12)
    0.04
    """
    return 2.0 * float(np.sqrt(area / np.pi))


def aspect_ratio(width: float, height: float) -> float:
    """Width over height: above 1 a flat port, below 1 a tall one.

    Parameters
    ----------
    width : across the bend, m
    height : in the plane of the bend, m

    Returns
    -------
    dimensionless

    Notes
    -----
    Source: definition.

    Examples
    --------
    >>> aspect_ratio(0.030, 0.020)
    1.5
    """
    return width / height


def roundness(area: float, perimeter: float) -> float:
    r"""Isoperimetric quotient: the area over that of the circle of the same perimeter.

    .. math:: Q = \frac{4 \pi A}{P^2} \le 1

    Parameters
    ----------
    area : m2
    perimeter : m

    Returns
    -------
    dimensionless; 1 for a circle, less for every other outline

    Notes
    -----
    Source: the isoperimetric inequality, Osserman (1978), "The isoperimetric inequality", Bulletin
    of the American Mathematical Society 84.

    Examples
    --------
    A square has pi/4:

    >>> round(roundness(1.0, 4.0), 6)
    0.785398
    """
    return 4.0 * float(np.pi) * area / perimeter**2


def bend_sharpness(short_side_radius: float, height: float) -> float:
    """Short-side radius over height: the lower, the sharper the bend.

    Parameters
    ----------
    short_side_radius : of the inner wall, m
    height : in the plane of the bend, m

    Returns
    -------
    dimensionless; that of the center line is half more

    Notes
    -----
    Source: definition, of the radius ratio that losses of bends are tabled by (Idelchik, section
    6): center-line radius over height is this ratio plus a half.

    Examples
    --------
    An inner radius of 15 mm on a height of 30 mm:

    >>> bend_sharpness(0.015, 0.030)
    0.5
    """
    return short_side_radius / height


def is_enclosed(area: float, perimeter: float) -> bool:
    """True where a perimeter can enclose an area at all, within rounding of what was measured.

    Parameters
    ----------
    area : m2
    perimeter : m

    Examples
    --------
    100 mm enclose at most a circle of 795.8 mm2:

    >>> is_enclosed(795e-6, 0.1), is_enclosed(900e-6, 0.1)
    (True, False)
    """
    return roundness(area, perimeter) <= ROUNDEST + SLACK


def largest_area(perimeter: float) -> float:
    """Area of the circle of a perimeter, the most it encloses.

    Parameters
    ----------
    perimeter : m

    Returns
    -------
    m2

    Examples
    --------
    >>> round(largest_area(0.1) * 1e6, 1)
    795.8
    """
    return perimeter**2 / (4.0 * float(np.pi))


def fits_within(area: float, width: float, height: float) -> bool:
    """True where an area fits into the rectangle of its greatest width and height, likewise.

    Parameters
    ----------
    area : m2
    width : greatest extent across, m
    height : greatest extent at right angles to that, m

    Examples
    --------
    >>> fits_within(600e-6, 0.030, 0.020), fits_within(700e-6, 0.030, 0.020)
    (True, False)
    """
    return area <= (1.0 + SLACK) * width * height
