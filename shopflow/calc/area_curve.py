"""Effective area over lift with its summary: the mean, the most, and the gain over another."""

from __future__ import annotations

from dataclasses import dataclass

from shopflow.calc.array_types import Array, Floats
from shopflow.calc.lift_curve import LiftCurve, means_over_own_lifts


@dataclass(frozen=True, slots=True)
class AreaCurve:
    """Effective area, m2, at a test's lifts, m."""

    lifts: Floats
    areas: Floats
    mean: float
    """Over its own lifts."""

    peak: float

    def gain_over(self, first: AreaCurve) -> float | None:
        """Relative gain in mean area over the lifts that both cover; None where they cover none.

        Examples
        --------
        >>> import numpy as np
        >>> lifts = np.array([[2.0, 4.0, 6.0]])
        >>> first, last = area_curves(np.repeat(lifts, 2, 0), np.array([[2.0, 4, 5], [3, 6, 7.5]]))
        >>> round(last.gain_over(first), 12)
        0.5
        """
        low = max(self.lifts[0], first.lifts[0])
        high = min(self.lifts[-1], first.lifts[-1])
        if low > high:
            return None
        return self._mean(low, high) / first._mean(low, high) - 1.0

    def _mean(self, low: float, high: float) -> float:
        if low == self.lifts[0] and high == self.lifts[-1]:
            return self.mean
        return float(LiftCurve(self.lifts, self.areas).mean(low, high))


def area_curves(lifts: Floats, areas: Floats) -> list[AreaCurve]:
    """The curves of many tests over as many lifts, a row each."""
    columns: list[Array] = [means_over_own_lifts(lifts, areas), areas.max(axis=-1)]
    rows = zip(lifts, areas, *(column.tolist() for column in columns), strict=True)
    return [AreaCurve(*row) for row in rows]
