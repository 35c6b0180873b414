"""Curves' names at their ends: wrapped, and moved apart so that none meets another."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import accumulate

from shopflow import fonts


def wrapped(text: str, size: float, room: float, most: int) -> list[str]:
    """A name on at most `most` lines no wider than `room` points; the rest ends in an ellipsis."""
    lines: list[str] = []
    words = text.split()
    while words and len(lines) < most:
        count = 1
        while count < len(words) and _width(words[: count + 1], size) <= room:
            count += 1
        if len(lines) == most - 1:
            count = len(words)
        lines.append(fonts.fitted(" ".join(words[:count]), size, room))
        words = words[count:]
    return lines


def spread(
    wanted: Sequence[float], heights: Sequence[float], high: float, low: float
) -> list[float]:
    """Tops of blocks of these heights, given in order from the top, so that none overlaps.

    Blocks that would meet are stacked, and each stack lies where its blocks move least, between
    `high` and `low`; stacks taller than that keep clear of each other all the same.
    """
    stacks: list[_Stack] = []
    for top, height in zip(wanted, heights, strict=True):
        stack = _Stack([top], [height])
        while stacks and stacks[-1].top(high, low) + stacks[-1].height > stack.top(high, low):
            stack = stacks.pop().over(stack)
        stacks.append(stack)
    return [top for stack in stacks for top in stack.tops(high, low)]


@dataclass(frozen=True)
class _Stack:
    """Blocks lying one under the other: the tops they want, and their heights."""

    wanted: list[float]
    heights: list[float]

    @property
    def height(self) -> float:
        return sum(self.heights)

    @property
    def offsets(self) -> list[float]:
        """Distance of each block below the stack's top."""
        return [0.0, *accumulate(self.heights)][:-1]

    def over(self, lower: _Stack) -> _Stack:
        return _Stack(self.wanted + lower.wanted, self.heights + lower.heights)

    def top(self, high: float, low: float) -> float:
        wanted = [top - offset for top, offset in zip(self.wanted, self.offsets, strict=True)]
        return max(high, min(sum(wanted) / len(wanted), low - self.height))

    def tops(self, high: float, low: float) -> list[float]:
        top = self.top(high, low)
        return [top + offset for offset in self.offsets]


def _width(words: Sequence[str], size: float) -> float:
    return fonts.width(" ".join(words), size)
