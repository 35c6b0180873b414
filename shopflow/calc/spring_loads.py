"""A spring as loads by height: between its points interpolated, beyond them a straight line."""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.monotone import MonotoneCubic
from shopflow.texts import gettext


class SpringLoads:
    """Load of a spring over its height, through two or more points.

    Parameters
    ----------
    heights : of the spring, each another, m
    loads : at those heights, higher the lower the spring stands, N

    Raises
    ------
    ValueError : for fewer than two points, a height given twice, or a load that does not rise as
        the spring is compressed

    Notes
    -----
    Two points make a spring of constant rate, so a straight line; more the monotone cubic through
    them, which never overshoots a measured load. Beyond the points the line goes on at the rate it
    ends with; `covers` tells where that is, and nothing is stated there without saying so. No load
    is below zero. Source of the straight line: Hooke's law, as in Shigley, Mechanical Engineering
    Design, chapter on springs.

    Examples
    --------
    120 lbf at 1.800 in and 330 lbf at 1.250 in, by hand 120 + 210/0.550 x 0.300 at 1.500 in:

    >>> spring = SpringLoads([1.800, 1.250], [120.0, 330.0])
    >>> round(spring.load(1.500), 2)
    234.55
    >>> round(spring.rate(1.500), 2)
    381.82
    >>> spring.covers(1.200)
    False
    """

    def __init__(self, heights: Sequence[float], loads: Sequence[float]) -> None:
        pairs = sorted(zip(heights, loads, strict=True))
        if len(pairs) < 2:
            raise ValueError(gettext("a spring needs two points"))
        self.heights: Floats = np.array([height for height, _ in pairs])
        self.loads: Floats = np.array([load for _, load in pairs])
        if not np.all(np.diff(self.heights) > 0.0):
            raise ValueError(gettext("a height is given twice"))
        if not np.all(np.diff(self.loads) < 0.0):
            raise ValueError(gettext("the load must rise as the spring is compressed"))
        self._curve = MonotoneCubic(self.heights, self.loads)

    @property
    def is_constant_rate(self) -> bool:
        """True where two points alone make it a straight line."""
        return len(self.heights) == 2

    def covers(self, height: float) -> bool:
        """True between the lowest and the highest point, rounding allowed for."""
        slack = 1e-9 * float(self.heights[-1])
        return bool(self.heights[0] - slack <= height <= self.heights[-1] + slack)

    def load(self, height: float) -> float:
        """Load at a height, N; beyond the points along a line of the end's rate."""
        edge = float(np.clip(height, self.heights[0], self.heights[-1]))
        load = float(self._curve.at(np.array([edge]))[0])
        return max(0.0, load + self.rate(edge) * (edge - height))

    def rate(self, height: float) -> float:
        """Rate at a height, N/m; beyond the points that of the end."""
        edge = float(np.clip(height, self.heights[0], self.heights[-1]))
        return -float(self._curve.slope(np.array([edge]))[0])

    @property
    def rates(self) -> list[float]:
        """Mean rate from each point to the next, from the highest to the lowest, N/m."""
        return [float(rate) for rate in -(np.diff(self.loads) / np.diff(self.heights))][::-1]

    def path(self, points: int = 40) -> list[tuple[float, float]]:
        """Heights and loads along the curve from its lowest to its highest point."""
        heights = np.linspace(self.heights[0], self.heights[-1], points)
        return [
            (float(height), float(load))
            for height, load in zip(heights, self._curve.at(heights), strict=True)
        ]
