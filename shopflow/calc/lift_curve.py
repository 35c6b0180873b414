"""One curve over lift: the monotone cubic through no lift and the tested points."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopflow.calc.array_types import Array, Floats
from shopflow.calc.monotone import MonotoneCubic, areas_under, slopes_at

STEP = 1e-6
"""Relative change of a point by which its weight in a figure is found: the error of central
differences and that of rounding are then both near 1e-10."""


class LiftCurve(MonotoneCubic):
    r"""The monotone piecewise cubic through (0, 0) and the tested points.

    Parameters
    ----------
    lifts : above 0 and strictly increasing, m
    values : at those lifts, in the last place; several curves over the same lifts a row each

    Examples
    --------
    cfm at 2 to 12 mm; SciPy has 150.6487 at 7.5 mm:

    >>> import numpy as np
    >>> flows = np.array([39.0, 80, 123, 158, 179, 185])
    >>> round(float(LiftCurve(np.arange(2.0, 13, 2), flows).at(np.array([7.5]))[0]), 4)
    150.6487
    """

    def __init__(self, lifts: Floats, values: Floats) -> None:
        start = np.zeros((*values.shape[:-1], 1))
        super().__init__(np.concatenate(([0.0], lifts)), np.concatenate((start, values), axis=-1))

    def clamped(self, lifts: Floats, highest: float | None = None) -> Floats:
        """The curve at lifts; above `highest`, or above its last lift, the value there."""
        last = self.x[-1] if highest is None else highest
        return self.at(np.minimum(lifts, last))

    def mean(self, low: float, high: float) -> Array:
        """Its integral from `low` to `high` over that range; where they are one, the curve there.

        The one definition of a mean over lift.
        """
        if high <= low:
            return self.at(np.array([low]))[..., 0]
        area = self.integral(np.array([low, high]))
        return (area[..., 1] - area[..., 0]) / (high - low)


def means_over_own_lifts(lifts: Floats, values: Floats) -> Floats:
    """Mean of each curve from its first to its last lift, a row each; of one point, that point.

    Parameters
    ----------
    lifts : above 0 and strictly increasing, m; a row for each curve, or one for all
    values : at those lifts, a row for each curve

    Examples
    --------
    >>> import numpy as np
    >>> means_over_own_lifts(np.array([1.0, 2.0]), np.array([[3.0, 6.0]])).tolist()
    [4.5]
    """
    if lifts.shape[-1] == 1:
        return np.asarray(values[..., 0])
    start = np.zeros((*values.shape[:-1], 1))
    lifts = np.broadcast_to(lifts, values.shape)
    x, y = (np.concatenate((start, column), axis=-1) for column in (lifts, values))
    under = areas_under(x, y, slopes_at(x, y))[..., 1:].sum(axis=-1)
    return np.asarray(under / (lifts[..., -1] - lifts[..., 0]))


def figures_and_sensitivities(
    lifts: Floats, values: Floats, figure: Callable[[LiftCurve], Floats]
) -> tuple[Floats, Floats]:
    """Figures of a curve, and their relative change with a relative change of each of its points.

    Parameters
    ----------
    lifts, values : of the curve, all values above 0
    figure : takes curves, a row each, and gives their figures, a row each

    Returns
    -------
    the figures; and a row for each of them, a column for each point

    Notes
    -----
    By central differences. Source of the use: JCGM 100:2008, 5.1.3, note 2.
    """
    steps = np.diag(STEP * values)
    # All curves at once: looking up where each figure is to be read costs more than reading it.
    every = figure(LiftCurve(lifts, np.vstack((values, values + steps, values - steps))))
    own, up, down = np.split(every, [1, 1 + len(values)])
    return own[0], np.asarray(((up - down) / (2.0 * STEP * own)).T)
