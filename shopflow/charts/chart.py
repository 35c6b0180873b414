"""What a chart shows: series of points over an axis."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass


@dataclass(frozen=True)
class Axis:
    """What an axis measures, with its unit as printed; empty for a bare number."""

    label: str
    unit: str = ""

    @property
    def title(self) -> str:
        """Label and unit, as "Flow, cfm"."""
        return f"{self.label}, {self.unit}" if self.unit else self.label


@dataclass(frozen=True)
class Series:
    """One curve. `error` is the half-length of each point's bar; None in `y` is a gap."""

    name: str
    x: Sequence[float]
    y: Sequence[float | None]
    error: Sequence[float] | None = None
    as_received: bool = False
    """Drawn dashed with open marks, where later stages are solid with filled ones."""


@dataclass(frozen=True)
class Chart:
    """A titled chart of one or more series."""

    title: str
    x: Axis
    y: Axis
    series: Sequence[Series]
    places: int = 1
    """Decimals of a value when it is read out."""

    from_zero: bool = True
