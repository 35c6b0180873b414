"""Low lift, where the curtain is the smallest opening: its coefficient, and what is usual."""

from __future__ import annotations

from math import cos, radians

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.reduction import Reduction

LOW_LIFT = 0.15
"""L/D up to which seat and bowl govern the flow; common practice, no source."""

INTAKE_LOW_LIFT = (0.60, 0.70)
"""Curtain coefficients of intakes with 45 degree seats at low lift; Heywood section 6.3, from
memory."""

BOOK_SEAT = radians(45.0)
"""Seat angle taken for the intakes in books: the usual one."""

FEWEST_PLACES = 2
"""Lifts that a mean at low lift wants."""


def low_lift_coefficient(reduction: Reduction) -> float | None:
    """Mean coefficient on curtain area up to L/D 0.15; none with fewer than two lifts there."""
    low = at_low_lift(reduction)
    return float(reduction.cd_curtain[low].mean()) if low.sum() >= FEWEST_PLACES else None


def intake_low_lift(seat_angle: float) -> tuple[float, float]:
    r"""Usual curtain coefficients of an intake at low lift, by its seat angle.

    At low lift the least area is :math:`\pi L \cos\beta\,(D - 2w)`, so that one and the same
    coefficient on it is a coefficient on the curtain, :math:`\pi D L`, in the ratio of the cosines.

    Parameters
    ----------
    seat_angle : from the plane of the valve head, radians

    Returns
    -------
    the lowest and the highest usual

    Notes
    -----
    Source: Heywood (1988), equation 6.7 for the area (number from memory), and section 6.3 for the
    0.60 to 0.70 at 45 degrees (values from memory).

    Examples
    --------
    >>> [round(value, 2) for value in intake_low_lift(radians(30.0))]
    [0.73, 0.86]
    """
    scale = cos(seat_angle) / cos(BOOK_SEAT)
    low, high = INTAKE_LOW_LIFT
    return low * scale, high * scale


def at_low_lift(reduction: Reduction) -> Floats:
    """Mask of a test's low lifts."""
    # A hair of slack: 0.15 typed in inches must count.
    return np.asarray(reduction.lift_over_diameter <= LOW_LIFT + 1e-6)
