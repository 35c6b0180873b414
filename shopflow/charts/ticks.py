"""Round numbers along an axis."""

from __future__ import annotations

import math


def ticks(low: float, high: float, most: int) -> list[float]:
    """Round values from at or below `low` to at or above `high`, at most `most` steps.

    >>> ticks(0.0, 187.0, 6)
    [0.0, 50.0, 100.0, 150.0, 200.0]
    """
    if not high > low:
        # One value alone still needs an axis around it.
        spare = abs(low) / 2 or 1.0
        low, high = low - spare, high + spare
    step = _step((high - low) / most)
    first, last = math.floor(low / step + 1e-9), math.ceil(high / step - 1e-9)
    return [place * step for place in range(first, last + 1)]


def label(value: float, step: float) -> str:
    """A tick's number, with just the decimals its step needs."""
    places = max(0, -math.floor(math.log10(step) + 1e-9))
    if round(step, places) != round(step, places + 1):
        places += 1
    return f"{value + 0.0:.{places}f}".replace("-", "−")


def _step(rough: float) -> float:
    size = 10.0 ** math.floor(math.log10(rough))
    return next(size * factor for factor in (1.0, 2.0, 5.0, 10.0) if size * factor >= rough * 0.999)
