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

    @property
    def points(self) -> list[tuple[float, float, float | None]]:
        """Every point that is there: x, y and the half-length of its bar."""
        errors: Sequence[float | None] = self.error or [None] * len(self.x)
        return [
            (x, y, error)
            for x, y, error in zip(self.x, self.y, errors, strict=True)
            if y is not None
        ]


@dataclass(frozen=True)
class Chart:
    """A titled chart of up to eight series, each told apart by colour, mark and name."""

    title: str
    x: Axis
    y: Axis
    series: Sequence[Series]
    places: int = 1
    """Decimals of a value when it is read out."""

    from_zero: bool = True
    """Whether the value axis must reach down to zero."""

    @property
    def description(self) -> str:
        """The chart in words, for whoever cannot see it."""
        curves = "; ".join(self._in_words(series) for series in self.series) or "no readings yet"
        return f"{self.y.title} against {self.x.title}. {curves}."

    def reading(self, series: Series, x: float, y: float, error: float | None) -> str:
        """One point in words, as "ported: 212.4 cfm ± 2.1 at 0.400 in"."""
        value = f"{y:.{self.places}f} {self.y.unit}".rstrip()
        margin = f" ± {error:.{self.places}f}" if error else ""
        return f"{series.name}: {value}{margin} at {x:g} {self.x.unit}".rstrip()

    def _in_words(self, series: Series) -> str:
        values = [y for _, y, _ in series.points]
        if not values:
            return f"{series.name}: no readings"
        if len(values) == 1:
            return self.reading(series, *series.points[0])
        reach = f"{min(values):.{self.places}f} to {max(values):.{self.places}f}"
        return f"{series.name}: {len(values)} points, {reach} {self.y.unit}".rstrip()
