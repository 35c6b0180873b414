"""Steadiness of a reading: its trend over a window is shown to be small, and not merely unseen."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

FEWEST = 8
"""Samples that a window needs."""

T_99 = (
    63.657, 9.925, 5.841, 4.604, 4.032, 3.707, 3.499, 3.355, 3.250, 3.169,
    3.106, 3.055, 3.012, 2.977, 2.947, 2.921, 2.898, 2.878, 2.861, 2.845,
)  # fmt: skip
"""Student's t for two-sided 99 % (JCGM 100:2008, table G.2), for 1 to 20 degrees of freedom."""


@dataclass(frozen=True, slots=True)
class Trend:
    """The straight line through a window of samples."""

    span: float
    """Time from the first sample to the last, s."""

    slope: float
    slope_uncertainty: float
    """Standard uncertainty of the slope from the scatter about the line."""

    freedom: int
    scatter: float
    """Standard deviation about the line."""

    @property
    def most_change(self) -> float:
        """Change over the window that the samples do not rule out, with 99 % on either side."""
        t = T_99[min(self.freedom, len(T_99)) - 1]
        return (abs(self.slope) + t * self.slope_uncertainty) * self.span


def trend(times: Sequence[float], values: Sequence[float]) -> Trend:
    """The least-squares line through samples (JCGM 100:2008, H.3): slope and its uncertainty.

    >>> line = trend([0.0, 1.0, 2.0, 3.0], [1.0, 3.0, 5.0, 7.0])
    >>> line.slope, line.scatter, line.most_change
    (2.0, 0.0, 6.0)
    """
    moments, readings = np.asarray(times, dtype=float), np.asarray(values, dtype=float)
    apart = moments - moments.mean()
    spread = float(apart @ apart)
    slope = float(apart @ readings) / spread
    left = readings - readings.mean() - slope * apart
    freedom = len(readings) - 2
    scatter = float(np.sqrt(left @ left / freedom))
    span = float(moments[-1] - moments[0])
    return Trend(span, slope, scatter / spread**0.5, freedom, scatter)


def is_steady(times: Sequence[float], values: Sequence[float], tolerance: float) -> bool:
    """True where the reading changes by no more than a tolerance over the window of samples.

    (|b| + t · u(b)) · T ≤ tolerance

    b is the slope over the window, u(b) its standard uncertainty, T the window's length and t
    Student's for 99 % two-sided. This is an equivalence test: a noisy reading is not called steady
    for want of evidence that it moves, as a plain test of the slope would. Whoever asks must make T
    no shorter than the slowest time constant τ: what an instrument of the first order has still to
    go at the window's end is then at most tolerance / (e^(T/τ) - 1), that is 0.58 of it at T = τ.

    Risk: a reading whose true change over the window is the tolerance passes one window with a
    probability below 0.5 % where its noise is independent; tests/unit/calc/test_steadiness.py
    checks that by simulation.
    """
    if len(values) < FEWEST:
        return False
    return trend(times, values).most_change <= tolerance
