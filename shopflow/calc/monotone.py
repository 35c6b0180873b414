"""The monotone piecewise cubic through points: it never overshoots what was measured."""

from __future__ import annotations

import numpy as np

from shopflow.calc.array_types import Array, Floats


class MonotoneCubic:
    r"""The monotone piecewise cubic through points.

    Parameters
    ----------
    x : strictly increasing, two or more
    y : at those, in the last place; several curves over the same x a row each

    Notes
    -----
    At an inner point the slope is the weighted harmonic mean of the slopes of the two lines that
    meet there, and zero where they have not the same sign; at an end it is the one-sided slope
    from three points, held to keep the curve monotone. Source: Fritsch and Butland, SIAM J. Sci.
    Stat. Comput. 5 (1984) 300; the ends as in SciPy's PchipInterpolator.

    Examples
    --------
    SciPy's PchipInterpolator has 1.72105263 at 3:

    >>> curve = MonotoneCubic(np.array([0.0, 1, 2, 4]), np.array([0.0, 0.5, 1.5, 1.8]))
    >>> round(float(curve.at(np.array([3.0]))[0]), 8)
    1.72105263
    """

    def __init__(self, x: Floats, y: Floats) -> None:
        self.x, self.y = x, y
        self.slopes = slopes_at(x, y)

    def at(self, x: Floats) -> Floats:
        """The curve at places from its first to its last."""
        cell, width, t = self._cells(x)
        low, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        return np.asarray(low + t * (first + t * (bend + t * twist)))

    def slope(self, x: Floats) -> Floats:
        """Its derivative there."""
        cell, width, t = self._cells(x)
        _, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        return np.asarray((first + t * (2.0 * bend + t * 3.0 * twist)) / width)

    def integral(self, x: Floats) -> Floats:
        """Its integral from its first place to each of these."""
        cell, width, t = self._cells(x)
        low, rise, first, last = self._cubic(cell, width)
        bend, twist = 3.0 * rise - 2.0 * first - last, first + last - 2.0 * rise
        inside = width * t * (low + t * (first / 2.0 + t * (bend / 3.0 + t * twist / 4.0)))
        under = areas_under(self.x, self.y, self.slopes)
        before = np.concatenate((np.zeros((*self.y.shape[:-1], 1)), under), axis=-1)
        return np.asarray(before.cumsum(axis=-1)[..., cell] + inside)

    def _cells(self, x: Floats) -> tuple[Array, Floats, Floats]:
        """The cubic that each place lies in, that one's width, and how far along it, 0 to 1."""
        last = len(self.x) - 2
        cell = np.clip(np.searchsorted(self.x, x, side="right") - 1, 0, last)
        width = self.x[cell + 1] - self.x[cell]
        return cell, width, (x - self.x[cell]) / width

    def _cubic(self, cell: Array, width: Floats) -> tuple[Floats, Floats, Floats, Floats]:
        """Of each cubic its value at the start, its rise, and its slopes at start and end."""
        low, high = self.y[..., cell], self.y[..., cell + 1]
        return low, high - low, width * self.slopes[..., cell], width * self.slopes[..., cell + 1]


def areas_under(x: Floats, y: Floats, slopes: Floats) -> Floats:
    """Area under each cubic of a curve, from its points and its slopes there."""
    width, ends = np.diff(x), y[..., 1:] + y[..., :-1]
    return np.asarray(width * ends / 2.0 - width**2 * np.diff(slopes) / 12.0)


def slopes_at(x: Floats, y: Floats) -> Floats:
    """Slope of the monotone cubic at each point."""
    width = np.diff(x)
    line = np.diff(y) / width
    if line.shape[-1] == 1:
        return np.repeat(line, 2, axis=-1)
    before, after = line[..., :-1], line[..., 1:]
    w_before = 2.0 * width[..., 1:] + width[..., :-1]
    w_after = width[..., 1:] + 2.0 * width[..., :-1]
    # A line that is level, or nearly so, has no reciprocal: its mean is 0, the limit.
    with np.errstate(divide="ignore", invalid="ignore", over="ignore"):
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
