"""Round numbers along an axis."""

from __future__ import annotations

import math
from collections.abc import Iterator

LEAST = 1e-30
"""Limit below which values of a chart count as zero."""


def ticks(low: float, high: float, most: int, least: float = 0.0) -> list[float]:
    """Round values from at or below `low` to at or above `high`, in at most `most` steps.

    The step is 1, 2 or 5 times a power of ten, and at least `least`; a range without extent gets
    some room around it.

    >>> ticks(0.0, 187.0, 6)
    [0.0, 50.0, 100.0, 150.0, 200.0]
    >>> ticks(1.0, 2.0, 6, least=1.0)
    [1.0, 2.0]
    """
    size = max(abs(low), abs(high))
    # Ends that differ by a rounding error alone have nothing between them to mark.
    if high - low <= max(1e-8 * size, LEAST):
        spare = size / 2 if size > LEAST else 1.0
        low, high = low - spare, high + spare
    for step in _steps(max((high - low) / max(most, 2), least)):
        # A hair of slack: 0.3 / 0.1 must count as 3 steps, not 2.9999.
        first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
        if last - first <= max(most, 2):
            break
    return [multiple * step for multiple in range(first, last + 1)]


def label(value: float, step: float) -> str:
    """A tick's number, with just the decimals its step needs.

    >>> label(-0.15, 0.05)
    '−0.15'
    """
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    # Adding zero turns a rounded -0.0 into 0.0.
    return f"{round(value, places) + 0.0:.{places}f}".replace("-", "−")


def _steps(rough: float) -> Iterator[float]:
    """Round steps of at least about `rough`, ever larger."""
    power = math.floor(math.log10(rough))
    while True:
        for factor in (1.0, 2.0, 5.0):
            step = factor * 10.0**power if power >= 0 else factor / 10.0**-power
            if step >= rough * 0.999:
                yield step
        power += 1
