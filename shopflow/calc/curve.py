"""Working along a curve of flow over lift."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from shopflow.calc.array_types import Array, Floats


def mean_over_lift(lifts: Floats, values: Floats) -> float:
    """Mean of a curve over its lifts, by the trapezoid rule; of one point, that point.

    Parameters
    ----------
    lifts : strictly increasing, m
    values : at those lifts: a flow, or a coefficient

    Returns
    -------
    in the unit of `values`

    Examples
    --------
    Flows 0, 39, 80, 123, 158, 179, 185 at 0 to 12 mm in steps of 2: mean 111.9167
    (scipy.integrate gives an area of 1343).

    >>> import numpy as np
    >>> flows = np.array([0.0, 39, 80, 123, 158, 179, 185])
    >>> round(mean_over_lift(np.arange(0.0, 13, 2), flows), 4)
    111.9167
    """
    return float(means_over_lift(lifts, values))


def means_over_lift(lifts: Floats, values: Floats) -> Array:
    """`mean_over_lift` of many curves, a row each.

    Parameters
    ----------
    lifts : strictly increasing, m; a row for each curve, or one for all of them
    values : at those lifts, a row for each curve

    Returns
    -------
    one mean for each curve, in the unit of `values`

    Examples
    --------
    >>> import numpy as np
    >>> means_over_lift(np.array([1.0, 3.0]), np.array([[10.0, 20.0], [20.0, 40.0]])).tolist()
    [15.0, 30.0]
    """
    if lifts.shape[-1] == 1:
        return values[..., 0]
    return np.trapezoid(values, lifts) / (lifts[..., -1] - lifts[..., 0])


def slope(lifts: Floats, values: Floats) -> Floats:
    """Slope of a curve at its own lifts, by central differences; zero where there is one lift.

    Parameters
    ----------
    lifts : strictly increasing, m; of many curves a row each
    values : at those lifts

    Returns
    -------
    in the unit of `values` per m, at each lift; one-sided at both ends

    Examples
    --------
    Exact inside a parabola, whatever the spacing (y = x², slope 2x at 3):

    >>> import numpy as np
    >>> round(float(slope(np.array([1.0, 3.0, 4.0]), np.array([1.0, 9.0, 16.0]))[1]), 9)
    6.0
    """
    if lifts.shape[-1] < 2:
        return np.zeros_like(values)
    if lifts.ndim == 1:
        return np.asarray(np.gradient(values, lifts))
    # One curve after another: inside each, the neighbours are its own; its ends are put right.
    with np.errstate(all="ignore"):
        slopes = np.gradient(values.ravel(), lifts.ravel()).reshape(values.shape)
    for end, inner in ((0, 1), (-1, -2)):
        rise = values[..., end] - values[..., inner]
        slopes[..., end] = rise / (lifts[..., end] - lifts[..., inner])
    return np.asarray(slopes)


def interpolation_weights(
    lifts: Floats, wanted: Floats
) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Neighbours of each wanted lift and the weight of the upper one, to interpolate linearly.

    Parameters
    ----------
    lifts : strictly increasing, m
    wanted : inside the range of `lifts`, m

    Returns
    -------
    indices of the lower and of the upper neighbour, and the upper one's weight, 0 to 1; on a
    lift of the curve the weight is 1

    Examples
    --------
    >>> import numpy as np
    >>> lower, upper, weight = interpolation_weights(np.array([6.0, 8.0]), np.array([7.5]))
    >>> int(lower[0]), int(upper[0]), float(weight[0])
    (0, 1, 0.75)
    """
    upper = np.clip(np.searchsorted(lifts, wanted), 0, len(lifts) - 1)
    lower = np.maximum(upper - 1, 0)
    span = lifts[upper] - lifts[lower]
    weight = np.where(span > 0, (wanted - lifts[lower]) / np.where(span > 0, span, 1.0), 1.0)
    return lower, upper, weight
