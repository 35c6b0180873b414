"""Control chart of individual values: does a bench still read as it did?"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

LIMIT_FACTOR = 3.0 / 1.128
"""Three standard deviations, each estimated as the mean moving range over d2 = 1.128."""

RUN = 8
"""Values in a row on one side of the centre that speak of a shift (Western Electric's fourth rule,
NIST/SEMATECH e-Handbook, 6.3.2)."""

FEWEST = 6
"""Values below which limits would say little; common practice, no source."""


@dataclass(frozen=True, slots=True)
class ControlChart:
    """Centre and limits from the values themselves, and which of them stand out."""

    centre: float
    moving_range: float
    """Mean distance of each value from the one before."""

    lower: float
    upper: float
    outside: tuple[int, ...]
    """Places of the values beyond the limits."""

    runs: tuple[int, ...]
    """Places at which a run on one side of the centre has become too long."""

    latest_fault: str
    """What speaks against the latest value, in words; empty where nothing does."""


def control_chart(values: Sequence[float]) -> ControlChart | None:
    """Limits for individual values from their moving ranges.

    Parameters
    ----------
    values : in the order they were measured, any unit

    Returns
    -------
    ControlChart; None for fewer than six values

    Notes
    -----
    Limits: mean ± 3 MR/1.128, with MR the mean of |x_i − x_(i−1)|.
    Source: NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

    Examples
    --------
    The handbook's ten flow rates: centre 50.81, limits 45.8159 and 55.8041.

    >>> chart = control_chart([49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1])
    >>> [round(value, 4) for value in (chart.centre, chart.lower, chart.upper)]
    [50.81, 45.8159, 55.8041]
    """
    if len(values) < FEWEST:
        return None
    x = np.asarray(values, dtype=float)
    centre = float(x.mean())
    moving_range = float(np.abs(np.diff(x)).mean())
    reach = LIMIT_FACTOR * moving_range
    lower, upper = centre - reach, centre + reach
    outside = tuple(int(place) for place in np.flatnonzero((x < lower) | (x > upper)))
    runs = _runs(np.sign(x - centre))
    last = len(x) - 1
    fault = ""
    if last in outside:
        fault = "outside its control limits"
    elif last in runs:
        fault = f"{RUN} or more in a row on one side of the mean"
    return ControlChart(centre, moving_range, lower, upper, outside, runs, fault)


def _runs(sides: NDArray[np.float64]) -> tuple[int, ...]:
    """Places where a run of one side has reached its length."""
    found, length, before = [], 0, 0.0
    for place, side in enumerate(sides):
        length = length + 1 if side == before and side != 0 else 1
        before = side
        if length >= RUN:
            found.append(place)
    return tuple(found)
