"""Past results as charts draw them; SI."""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class PastBand:
    """A band of past heads' flows, m3/s, over "lift" in m or over "L/D"."""

    name: str
    over: str
    x: tuple[float, ...]
    low: tuple[float, ...]
    middle: tuple[float, ...]
    high: tuple[float, ...]
    least: tuple[float, ...]
    greatest: tuple[float, ...]


@dataclass(frozen=True)
class PastCurve:
    """One past test's flow, m3/s, over the same."""

    name: str
    x: tuple[float, ...]
    y: tuple[float, ...]
    as_received: bool


@dataclass(frozen=True)
class Dot:
    """One test in a scatter: its number in the table beside, and its place on both axes."""

    label: str
    x: float
    y: float
    as_received: bool
    link: str = ""
