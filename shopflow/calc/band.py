"""Many past curves together: median, quartiles, extremes, and where the next one falls."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.lift_curve import LiftCurve
from shopflow.calc.student import factor
from shopflow.texts import gettext


@dataclass(frozen=True, slots=True)
class Curve:
    """One curve; `x` above 0 and strictly increasing, a lift in m or L/D, `y` in any unit."""

    x: tuple[float, ...]
    y: tuple[float, ...]


@dataclass(frozen=True, slots=True)
class BandPoint:
    """The curves at one place; `count` is how many of them reach it."""

    x: float
    count: int
    least: float
    lower_quartile: float
    median: float
    upper_quartile: float
    greatest: float
    next_low: float | None
    next_high: float | None
    """Between these the next curve falls in about half of cases; None for a single curve."""


def band(curves: Sequence[Curve], step: float) -> tuple[BandPoint, ...]:
    """Median, quartiles, extremes and the next curve's interval, at the multiples of a step.

    Parameters
    ----------
    curves : each with its own points; units of `x` and `y` alike in all
    step : distance of the places, in the unit of `x`

    Returns
    -------
    a point for each multiple of the step that at least one curve reaches, in the units given;
    where a curve or all of them are too short to reach any, that curve counts nowhere

    Raises
    ------
    ValueError where the step is not above 0

    Notes
    -----
    Each curve is the one of `LiftCurve` between its own points and never goes beyond its ends, so
    that fewer curves make the points at the ends. Quartiles are of type 7 of Hyndman and Fan
    (The American Statistician 50 (1996) 361): with n values in order, the quantile p lies at
    place 1 + (n − 1) p, linearly between the neighbours. Of one curve all five are that curve.

    Quartiles tell of these curves, not of the next one. That falls, in half of cases, within
    mean ± t s sqrt(1 + 1/n), with t for 50 % and n − 1 degrees of freedom, where the curves are
    independent and their values there normally distributed. Source: the prediction interval of
    the NIST/SEMATECH e-Handbook of Statistical Methods, 7.1.6.

    Examples
    --------
    Four curves that read 1, 2, 3 and 4: the quartiles of type 7 are 1.75, 2.5 and 3.25.

    >>> curves = [Curve((0.5, 1.0), (y, y)) for y in (1.0, 2.0, 3.0, 4.0)]
    >>> point = band(curves, 0.5)[0]
    >>> point.x, point.count, point.lower_quartile, point.median, point.upper_quartile
    (0.5, 4, 1.75, 2.5, 3.25)

    Of them s is 1.291 and t 0.7649: 2.5 ± 1.1041 for the next.

    >>> round(point.next_low, 3), round(point.next_high, 3)
    (1.396, 3.604)
    """
    multiples = _multiples(curves, step)
    if not len(multiples):
        return ()
    values = np.stack([_inside(curve, multiples) for curve in curves])
    points = []
    for index, column in enumerate(values.T):
        there = column[~np.isnan(column)]
        if there.size:
            five = np.quantile(there, (0.0, 0.25, 0.5, 0.75, 1.0)).tolist()
            points.append(BandPoint(float(multiples[index]), there.size, *five, *_next(there)))
    return tuple(points)


def _next(values: Floats) -> tuple[float, float] | tuple[None, None]:
    """Range into which one more value falls in half of cases."""
    count = values.size
    if count < 2:
        return None, None
    half = factor(0.5, count - 1) * float(values.std(ddof=1)) * (1.0 + 1.0 / count) ** 0.5
    mean = float(values.mean())
    return mean - half, mean + half


def interpolated(curve: Curve, x: float) -> float | None:
    """The curve at one place; none beyond its ends."""
    value = float(_inside(curve, np.array([x]))[0])
    return None if np.isnan(value) else value


def common_range(curves: Sequence[Curve]) -> tuple[float, float] | None:
    """Range in which every curve has a value, in the unit of `x`; None where they share none."""
    if not curves:
        return None
    low = max(curve.x[0] for curve in curves)
    high = min(curve.x[-1] for curve in curves)
    return (low, high) if low < high else None


def mean_between(curve: Curve, low: float, high: float) -> float:
    """Mean of a curve from `low` to `high`, both inside it, as `LiftCurve.mean` has it.

    Parameters
    ----------
    curve : with its own points
    low, high : inside the curve's own range, in the unit of its `x`

    Returns
    -------
    in the unit of `y`

    Examples
    --------
    y = x from 1 to 3, whatever points it is given by:

    >>> round(mean_between(Curve((0.5, 2.5, 4.0), (0.5, 2.5, 4.0)), 1.0, 3.0), 12)
    2.0
    """
    return float(_lift_curve(curve).mean(low, high))


def rank(value: float, among: Sequence[float]) -> int:
    """Place of a value among others, the greatest first; equal values share a place.

    >>> rank(3.0, [5.0, 3.0, 3.0, 1.0])
    2
    """
    return 1 + sum(other > value for other in among)


def _multiples(curves: Sequence[Curve], step: float) -> Floats:
    """The multiples of a step from the first curve's start to the last one's end."""
    if step <= 0.0:
        raise ValueError(gettext("a band's step is more than 0"))
    if not curves:
        return np.empty(0)
    low = min(curve.x[0] for curve in curves)
    high = max(curve.x[-1] for curve in curves)
    # A hair of slack: 0.3 / 0.1 must count as 3 steps.
    first, last = np.ceil(low / step - 1e-9), np.floor(high / step + 1e-9)
    return np.arange(first, last + 0.5) * step


def _inside(curve: Curve, x: Floats) -> Floats:
    """The curve at these places, not-a-number beyond its ends."""
    slack = 1e-9 * max(abs(curve.x[-1]), 1e-12)
    values = _lift_curve(curve).at(np.clip(x, curve.x[0], curve.x[-1]))
    beyond = (x < curve.x[0] - slack) | (x > curve.x[-1] + slack)
    return np.where(beyond, np.nan, values)


def _lift_curve(curve: Curve) -> LiftCurve:
    return LiftCurve(np.array(curve.x), np.array(curve.y))
