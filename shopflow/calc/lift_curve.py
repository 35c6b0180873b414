"""One curve over lift: the monotone cubic through no lift and the tested points."""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from shopflow.calc.array_types import Array, Floats

STEP = 1e-6
"""Relative change of a point by which its weight in a figure is found: the error of central
differences and that of rounding are then both near 1e-10."""


class LiftCurve:
    r"""The monotone piecewise cubic through (0, 0) and the tested points.

    Parameters
    ----------
    lifts : above 0 and strictly increasing, m
    values : at those lifts, in the last place; several curves over the same lifts a row each

    Notes
    -----
    At an inner point the slope is the weighted harmonic mean of the slopes of the two lines that
    meet there, and zero where they have not the same sign; at an end it is the one-sided slope
    from three points, held to keep the curve monotone. Source: Fritsch and Butland, SIAM J. Sci.
    Stat. Comput. 5 (1984) 300; the ends as in SciPy's PchipInterpolator.

    Examples
    --------
    cfm at 2 to 12 mm; SciPy has 150.6487 at 7.5 mm:

    >>> import numpy as np
    >>> flows = np.array([39.0, 80, 123, 158, 179, 185])
    >>> round(float(LiftCurve(np.arange(2.0, 13, 2), flows).at(np.array([7.5]))[0]), 4)
    150.6487
    """

    def __init__(self, lifts: Floats, values: Floats) -> None:
        self.lifts = np.concatenate(([0.0], lifts))
        start = np.zeros((*values.shape[:-1], 1))
        self.values = np.concatenate((start, values), axis=-1)
        self.slopes = _slopes(self.lifts, self.values)

    def at(self, lifts: Floats) -> Floats:
        """The curve at lifts from 0 to its last."""
        cell, width, t = self._cells(lifts)
        low, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        return np.asarray(low + t * (first + t * (bend + t * twist)))

    def slope(self, lifts: Floats) -> Floats:
        """Its derivative there, per m."""
        cell, width, t = self._cells(lifts)
        _, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        return np.asarray((first + t * (2.0 * bend + t * 3.0 * twist)) / width)

    def mean(self, low: float, high: float) -> Array:
        """Its integral from `low` to `high` over that range; where they are one, the curve there.

        The one definition of a mean over lift.
        """
        if high <= low:
            return self.at(np.array([low]))[..., 0]
        area = self._integral(np.array([low, high]))
        return (area[..., 1] - area[..., 0]) / (high - low)

    def _integral(self, lifts: Floats) -> Floats:
        """Its integral from 0 to each lift."""
        cell, width, t = self._cells(lifts)
        low, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        inside = width * t * (low + t * (first / 2.0 + t * (bend / 3.0 + t * twist / 4.0)))
        before = np.concatenate((np.zeros((*self.values.shape[:-1], 1)), self._areas), axis=-1)
        return np.asarray(before.cumsum(axis=-1)[..., cell] + inside)

    @property
    def _areas(self) -> Floats:
        """The area under each of its cubics."""
        return areas(self.lifts, self.values, self.slopes)

    def _cells(self, lifts: Floats) -> tuple[Array, Floats, Floats]:
        """The cubic that each lift lies in, that one's width, and how far along it, 0 to 1."""
        last = len(self.lifts) - 2
        cell = np.clip(np.searchsorted(self.lifts, lifts, side="right") - 1, 0, last)
        width = self.lifts[cell + 1] - self.lifts[cell]
        return cell, width, (lifts - self.lifts[cell]) / width

    def _cubic(self, cell: Array, width: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Of each cubic its value at the start, its rise, and its slopes at start and end."""
        low, high = self.values[..., cell], self.values[..., cell + 1]
        return low, high - low, width * self.slopes[..., cell], width * self.slopes[..., cell + 1]


def areas(lifts: Floats, values: Floats, slopes: Floats) -> Floats:
    """Area under each cubic of a curve, from its points and its slopes there."""
    width, ends = np.diff(lifts), values[..., 1:] + values[..., :-1]
    return np.asarray(width * ends / 2.0 - width**2 * np.diff(slopes) / 12.0)


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
    x, y = (np.concatenate((start, known), axis=-1) for known in (lifts, values))
    under = areas(x, y, _slopes(x, y))[..., 1:].sum(axis=-1)
    return np.asarray(under / (lifts[..., -1] - lifts[..., 0]))


def sensitivities(lifts: Floats, values: Floats, figure: Callable[[LiftCurve], Floats]) -> Floats:
    """Relative change of figures of a curve with a relative change of each of its points.

    Parameters
    ----------
    lifts, values : of the curve, all values above 0
    figure : takes curves, a row each, and gives their figures, a row each

    Returns
    -------
    a row for each figure, a column for each point

    Notes
    -----
    By central differences. Source of the use: JCGM 100:2008, 5.1.3, note 2.
    """
    steps = np.diag(STEP * values)
    up, down = (figure(LiftCurve(lifts, values + sign * steps)) for sign in (1.0, -1.0))
    return np.asarray(((up - down) / (2.0 * STEP * figure(LiftCurve(lifts, values)))).T)


def _slopes(lifts: Floats, values: Floats) -> Floats:
    """Slope of the monotone cubic at each point."""
    width = np.diff(lifts)
    line = np.diff(values) / width
    if line.shape[-1] == 1:
        return np.repeat(line, 2, axis=-1)
    before, after = line[..., :-1], line[..., 1:]
    w_before = 2.0 * width[..., 1:] + width[..., :-1]
    w_after = width[..., 1:] + 2.0 * width[..., :-1]
    with np.errstate(divide="ignore", invalid="ignore"):
        inner = (w_before + w_after) / (w_before / before + w_after / after)
    inner = np.where(before * after > 0.0, inner, 0.0)
    ends = [
        _end_slope(width[..., first], width[..., second], line[..., first], line[..., second])
        for first, second in ((0, 1), (-1, -2))
    ]
    first, last = (end[..., np.newaxis] for end in ends)
    return np.concatenate((first, inner, last), axis=-1)


def _end_slope(width: Array, inner_width: Array, line: Array, inner: Array) -> Floats:
    """One-sided slope from three points, held to keep the curve monotone."""
    slope = ((2.0 * width + inner_width) * line - width * inner) / (width + inner_width)
    turned = (line * inner < 0.0) & (np.abs(slope) > 3.0 * np.abs(line))
    return np.asarray(np.where(slope * line <= 0.0, 0.0, np.where(turned, 3.0 * line, slope)))
