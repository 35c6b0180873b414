"""A smooth line through a few points along the middle of a port."""

from __future__ import annotations

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np

from shopflow.calc.array_types import Floats

FINE = 32
"""Parts of each span over which its length is summed."""

WINDOW = 8.0
"""Length of the line over the distance to the places before and after that its bend is told by."""

GAUSS = np.polynomial.legendre.leggauss(3)
STRAIGHT = 1e-3
"""Sagitta over length below which a line has no bend plane: 0.1 mm in 100."""


class Station(NamedTuple):
    """A place along a line: position, direction (length 1), curvature (1/m, toward the center)."""

    position: Floats
    tangent: Floats
    curvature: Floats


class CenterLine:
    r"""The cubic spline through points, by the length of its chords.

    Parameters
    ----------
    points : (n, 3), two or more, none equal to the one before it, m

    Notes
    -----
    The third derivative is continuous at the second point and at the last but one ("not-a-knot"),
    so that an arc keeps its form to its ends; through three points runs a parabola, through two a
    straight line. Source: de Boor, A Practical Guide to Splines (1978), chapter IV. Curvature is
    that of the circle through the place and the places an eighth of the length before and after
    it, so that a point typed half a millimeter off does not bend the line.

    Examples
    --------
    A quarter circle of radius 50 mm through seven points: its length, and the radius at its middle:

    >>> angles = np.linspace(0.0, np.pi / 2, 7)
    >>> arc = np.stack([np.cos(angles), np.sin(angles), 0 * angles], axis=1)
    >>> line = CenterLine(0.05 * arc)
    >>> round(line.length * 1e3, 1)
    78.5
    >>> round(1e3 / float(np.linalg.norm(line.at(line.length / 2).curvature)), 1)
    50.0
    """

    def __init__(self, points: Floats | Sequence[Sequence[float]]) -> None:
        points = np.asarray(points, dtype=np.float64)
        chords = np.linalg.norm(np.diff(points, axis=0), axis=1)
        self.points = points
        self._knots = np.concatenate(([0.0], np.cumsum(chords)))
        self._bends = _second_derivatives(self._knots, points)
        self._fine = _subdivided(self._knots)
        self._lengths = self._lengths_along()
        self.length = float(self._lengths[-1])

    def at(self, distance: float) -> Station:
        """The place at a distance along the line from its first point, m."""
        position, first = self._places([distance])
        tangent = first[0] / np.linalg.norm(first[0])
        return Station(position[0], tangent, self._curvature(distance, position[0], tangent))

    def _curvature(self, distance: float, position: Floats, tangent: Floats) -> Floats:
        """Toward the center of the circle that the line runs on about here."""
        reach = self.length / WINDOW
        middle = min(max(distance, reach), self.length - reach)
        before, here, after = self._places([middle - reach, middle, middle + reach])[0]
        center = _center(before, here, after)
        if center is None:
            return np.zeros(3)
        radius = float(np.linalg.norm(center - here))
        inward = center - position
        inward = inward - (inward @ tangent) * tangent
        curvature: Floats = inward / (np.linalg.norm(inward) * radius)
        return curvature

    def _places(self, distances: Sequence[float]) -> tuple[Floats, Floats]:
        """Positions and first derivatives at distances along the line."""
        return self._evaluated(np.interp(distances, self._lengths, self._fine))

    def bend_normal(self) -> Floats | None:
        """Normal of the plane the line bends in, of length 1; None where the line is straight."""
        points = self._evaluated(self._fine)[0]
        _, sizes, axes = np.linalg.svd(points - points.mean(axis=0), full_matrices=False)
        if sizes[1] <= STRAIGHT * sizes[0]:
            return None
        normal: Floats = axes[2]
        return normal

    def _lengths_along(self) -> Floats:
        """Length from the first point to each fine place, by Gauss's rule."""
        nodes, weights = GAUSS
        half = np.diff(self._fine) / 2.0
        places = (self._fine[:-1] + half)[:, None] + half[:, None] * nodes
        first = self._evaluated(places.ravel())[1]
        speeds = np.linalg.norm(first, axis=1).reshape(places.shape)
        return np.concatenate(([0.0], np.cumsum(half * (speeds @ weights))))

    def _evaluated(self, places: Floats) -> tuple[Floats, Floats]:
        """Positions and first derivatives at parameters."""
        knots, bends = self._knots, self._bends
        span = np.clip(np.searchsorted(knots, places, side="right") - 1, 0, len(knots) - 2)
        width = (knots[span + 1] - knots[span])[:, None]
        t = (places[:, None] - knots[span][:, None]) / width
        start, end = bends[span], bends[span + 1]
        rise = self.points[span + 1] - self.points[span]
        slope = rise / width - width * (2.0 * start + end) / 6.0
        position = self.points[span] + t * width * (
            slope + t * width * (start / 2.0 + t * (end - start) / 6.0)
        )
        first = slope + width * t * (start + t * (end - start) / 2.0)
        return position, first


def _center(before: Floats, here: Floats, after: Floats) -> Floats | None:
    """Center of the circle through three points; None where they lie on a straight line."""
    back, ahead = before - here, after - here
    normal = np.cross(back, ahead)
    size = float(normal @ normal)
    if size <= (STRAIGHT * float(back @ back)) ** 2:
        return None
    toward = (back @ back) * np.cross(ahead, normal) - (ahead @ ahead) * np.cross(back, normal)
    center: Floats = here + toward / (2.0 * size)
    return center


def _subdivided(knots: Floats) -> Floats:
    shares = np.arange(FINE) / FINE
    inner = knots[:-1, None] + np.diff(knots)[:, None] * shares
    return np.concatenate((inner.ravel(), knots[-1:]))


def _second_derivatives(knots: Floats, points: Floats) -> Floats:
    """Second derivatives of the spline at its points."""
    count, widths = len(knots), np.diff(knots)
    if count == 2:
        return np.zeros_like(points)
    slopes = np.diff(points, axis=0) / widths[:, None]
    matrix, sides = np.zeros((count, count)), np.zeros_like(points)
    for row in range(1, count - 1):
        before, after = widths[row - 1], widths[row]
        matrix[row, row - 1 : row + 2] = before, 2.0 * (before + after), after
        sides[row] = 6.0 * (slopes[row] - slopes[row - 1])
    if count == 3:
        matrix[0, :2], matrix[2, 1:] = (1.0, -1.0), (1.0, -1.0)
    else:
        for row, first in ((0, 0), (count - 1, count - 3)):
            before, after = widths[first], widths[first + 1]
            matrix[row, first : first + 3] = after, -(before + after), before
    return np.asarray(np.linalg.solve(matrix, sides), dtype=np.float64)
