"""How far the ports of a head lie apart."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np

from shopflow.calc.alike import Alike
from shopflow.calc.uncertainty import COVERAGE_FACTOR, root_sum_of_squares


@dataclass(frozen=True, slots=True)
class SpreadPoint:
    """Ports side by side at one lift: SI, flows in m3/s."""

    lift: float
    lift_over_diameter: float
    mean: float
    deviation: float
    """Standard deviation of the ports' flows."""

    lowest: int
    highest: int
    """Places of the ports that flow least and most among the sessions given."""

    difference: float
    """Highest less lowest."""

    spread_percent: float
    """That over the mean."""

    expanded_uncertainty: float
    """Of the difference."""

    significant: bool
    """Whether the difference exceeds its uncertainty."""


def spread(found: Alike) -> tuple[SpreadPoint, ...]:
    r"""Spread of two or more ports at each lift.

    .. math:: \frac{\max q - \min q}{\bar q},\quad s^2 = \frac{1}{n-1} \sum (q_i - \bar q)^2

    Parameters
    ----------
    found : sessions of ports, brought to the same lifts

    Returns
    -------
    a point for each lift

    Raises
    ------
    ValueError for fewer than two ports, which have no spread

    Notes
    -----
    The uncertainty is of the difference between two single ports, with k = 2; a calibration all
    share has its effect on that difference alone (JCGM 100:2008, 5.2 and F.1.2). Of many ports
    two lie far apart by chance more often than of two. Source of s: JCGM 100:2008, 4.2.2.
    """
    if len(found.flow) < 2:
        raise ValueError("a spread needs two ports")
    columns = np.arange(len(found.lifts))
    lowest, highest = found.flow.argmin(axis=0), found.flow.argmax(axis=0)
    mean = found.flow.mean(axis=0)
    difference = found.flow[highest, columns] - found.flow[lowest, columns]
    expanded = COVERAGE_FACTOR * root_sum_of_squares(
        found.standard_uncertainty[highest, columns],
        found.standard_uncertainty[lowest, columns],
        found.common * difference,
    )
    arrays = (
        found.lifts,
        found.lift_over_diameter,
        mean,
        found.flow.std(axis=0, ddof=1),
        lowest,
        highest,
        difference,
        100.0 * difference / mean,
        expanded,
        difference > expanded,
    )
    return tuple(SpreadPoint(*row) for row in np.rec.fromarrays(arrays).tolist())
