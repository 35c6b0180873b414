"""Working along a curve of flow over lift."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]


def mean_over_lift(lifts: Floats, flows: Floats) -> float:
    """Mean of a curve over its lifts, by the trapezoid rule; of one point, that point.

    Examples
    --------
    Flows 0, 39, 80, 123, 158, 179, 185 at 0 to 12 mm in steps of 2: mean 111.9167
    (scipy.integrate gives an area of 1343).

    >>> import numpy as np
    >>> flows = np.array([0.0, 39, 80, 123, 158, 179, 185])
    >>> round(mean_over_lift(np.arange(0.0, 13, 2), flows), 4)
    111.9167
    """
    if len(lifts) == 1:
        return float(flows[0])
    return float(np.trapezoid(flows, lifts) / (lifts[-1] - lifts[0]))


def slope(lifts: Floats, flows: Floats) -> Floats:
    """Slope of a curve at its own lifts, by central differences; zero where there is one lift."""
    if len(lifts) < 2:
        return np.zeros_like(flows)
    return np.asarray(np.gradient(flows, lifts))


def interpolation_weights(
    lifts: Floats, wanted: Floats
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Neighbours of each wanted lift and the weight of the upper one.

    Parameters
    ----------
    lifts : strictly increasing, m
    wanted : inside the range of `lifts`, m

    Returns
    -------
    indices of the lower and of the upper neighbour, and the upper one's weight, 0 to 1
    """
    upper = np.clip(np.searchsorted(lifts, wanted), 0, len(lifts) - 1)
    lower = np.maximum(upper - 1, 0)
    span = lifts[upper] - lifts[lower]
    weight = np.where(span > 0, (wanted - lifts[lower]) / np.where(span > 0, span, 1.0), 1.0)
    return lower, upper, weight
