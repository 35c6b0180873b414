"""Timing a thing and its limit in turns, so that whatever else the machine does meets both."""

from __future__ import annotations

import gc
import resource
import statistics
import time
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path

Work = Callable[[], object]


@dataclass(frozen=True)
class Bench:
    """Server, data and folders that the benchmarks work on."""

    folder: Path
    """To be written in; gone when they end."""

    small: str
    large: str
    """Databases of a shop, and of one with ten times the jobs."""

    rounds: int
    scale: float
    """Share of the full amount of work, for a quick look."""

    clock: Callable[[], float] = time.process_time
    """Seconds of what asks the database most: by the clock where that is another process."""

    def count(self, full: int) -> int:
        """So many of something, at this scale."""
        return max(1, int(full * self.scale))


@dataclass(frozen=True)
class Row:
    """A thing against its limit, in seconds or bytes; a goal is a bound of their ratio."""

    what: str
    limit: str
    time: float
    limit_time: float
    goal: float
    at_least: bool = False
    """True where the goal is a ratio of limit to result that is to be reached."""

    in_bytes: bool = False

    @property
    def ratio(self) -> float:
        """Thing over limit; the other way about where it is to be the faster."""
        pair = (self.time, self.limit_time)
        return pair[1] / pair[0] if self.at_least else pair[0] / pair[1]

    @property
    def met(self) -> bool:
        """True where the goal is met."""
        return self.ratio >= self.goal if self.at_least else self.ratio <= self.goal

    def __str__(self) -> str:
        """A line of the table."""
        bound = f"{'at least' if self.at_least else 'at most'} {self.goal:g}"
        shown = _size if self.in_bytes else _time
        return (
            f"| {self.what} | {shown(self.time)} | {self.limit} | {shown(self.limit_time)} "
            f"| {self.ratio:.2f} | {bound} | {'yes' if self.met else '**no**'} |"
        )


HEADER = """\
| what | time | limit | its time | ratio | goal | met |
| --- | --- | --- | --- | --- | --- | --- |"""


def in_turns(
    rounds: int, *works: Work, clock: Callable[[], float] = time.process_time
) -> list[float]:
    """Median seconds of each work, done in turns; each is done once before, uncounted.

    They are seconds of this process's own work, which others on the machine do not lengthen; where
    a work waits for the disk or for another process, the clock is `time.perf_counter`.
    """
    for work in works:
        work()
    rows: list[list[float]] = [[] for _ in works]
    for _ in range(rounds):
        for work, times in zip(works, rows, strict=True):
            gc.collect()
            started = clock()
            work()
            times.append(clock() - started)
    return [statistics.median(times) for times in rows]


def work_of_children() -> float:
    """Processor seconds of the processes this one started and waited for."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def agree(answer: object, wanted: object, what: str) -> None:
    """See that a thing and its limit did the same. Raises AssertionError."""
    if answer != wanted:
        raise AssertionError(f"{what} differ: {answer!r} and {wanted!r}"[:500])


def _size(count: float) -> str:
    return f"{count / 1e6:.0f} MB"


def _time(seconds: float) -> str:
    return f"{seconds:.2f} s" if seconds >= 1 else f"{seconds * 1000:.3g} ms"
