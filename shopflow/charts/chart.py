"""Contents of a chart: series of points over an axis."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass

from shopflow.texts import gettext, lazy, ngettext


@dataclass(frozen=True)
class Axis:
    """Quantity of an axis, with its unit as printed; empty for a bare number."""

    label: str
    unit: str = ""

    @property
    def title(self) -> str:
        """Label and unit, as "Flow, cfm"."""
        return f"{self.label}, {self.unit}" if self.unit else self.label

    @property
    def short(self) -> str:
        """Its label without what goes before the last comma, as "L/D" of "Lift over …, L/D"."""
        return self.label.rsplit(", ", 1)[-1]


@dataclass(frozen=True)
class Series:
    """One curve. `error` is the half-length of each point's bar; None in `y` is a gap."""

    name: str
    x: Sequence[float]
    y: Sequence[float | None]
    error: Sequence[float] | None = None
    as_received: bool = False
    """Drawn dashed with open marks, where later stages are solid with filled ones."""

    joined: bool = True
    """True where a line runs through the points; a scatter has none."""

    labels: Sequence[str] = ()
    """A short label beside each point, as its number in a table; none where empty."""

    stepped: bool = False
    """True where the line is level about each point and steps halfway to the next."""

    links: Sequence[str] = ()
    """An address each point leads to on screen; none where empty."""

    path: Sequence[tuple[float, float]] = ()
    """The curve between its points, where more of it is known; straight lines where empty."""

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
class Band:
    """Band of many curves: a filled area between two of them, a line in its middle, and thin lines
    at the extremes. All are over the same `x`."""

    name: str
    x: Sequence[float]
    low: Sequence[float]
    middle: Sequence[float]
    high: Sequence[float]
    least: Sequence[float]
    greatest: Sequence[float]


@dataclass(frozen=True)
class Shade:
    """A named area between a curve and zero, shaded behind the series."""

    name: str
    x: Sequence[float]
    y: Sequence[float]


@dataclass(frozen=True)
class Chart:
    """A titled chart of up to eight series, each distinguished by colour, mark and name."""

    title: str
    x: Axis
    y: Axis
    series: Sequence[Series]
    places: int = 1
    """Decimals of a value when it is read out."""

    from_zero: bool = True
    """True where the value axis must reach down to zero."""

    x_places: int | None = None
    """Decimals of a place along the axis when it is read out, and at most at its ticks; as few as
    it has where none. 0 is for what is counted."""

    x_words: Callable[[float], str] | None = None
    """Words of a place along the axis that is no plain number, as a date."""

    nothing: str = lazy("No readings yet")
    """Text in a chart without a point."""

    x_from_zero: bool = True
    """True where the axis along the bottom must."""

    bands: Sequence[Band] = ()
    """Drawn behind the series."""

    shades: Sequence[Shade] = ()
    """Drawn behind all else, in the order of their greys."""

    @property
    def description(self) -> str:
        """The chart in words, for a reader who cannot see it."""
        words = [self._in_words(series) for series in self.series]
        words += [self._band_in_words(band) for band in self.bands]
        words += [
            gettext(
                "{shade}: shaded from {first} to {last}",
                shade=shade.name,
                first=self.position(shade.x[0]),
                last=_with_unit(self.position(shade.x[-1]), self.x),
            )
            for shade in self.shades
        ]
        curves = "; ".join(words) or gettext("no readings yet")
        return gettext("{y} against {x}. {curves}.", y=self.y.title, x=self.x.title, curves=curves)

    def reading(self, series: Series, x: float, y: float, error: float | None) -> str:
        """One point in words, as "ported: 212.4 cfm ± 2.1 at 0.400 in"."""
        value = f"{self.value(y)} {self.y.unit}".rstrip()
        margin = f" ± {self.value(error)}" if error else ""
        at = self.position(x)
        at = f"{at} {self.x.unit}" if self.x.unit else f"{self.x.short} {at}"
        return gettext(
            "{series}: {value}{margin} at {at}",
            series=series.name,
            value=value,
            margin=margin,
            at=at,
        )

    def value(self, y: float) -> str:
        """A value as it is read out."""
        return f"{y:.{self.places}f}".replace("-", "−")

    def position(self, x: float) -> str:
        """A position along the axis, as it is read out."""
        if self.x_words is not None:
            return self.x_words(x)
        return f"{x:g}" if self.x_places is None else f"{x:.{self.x_places}f}"

    @property
    def table(self) -> list[tuple[str, list[str]]]:
        """The same data as rows: a place along the axis, and what each curve has there."""
        rows: dict[str, list[str]] = {}
        points = [
            (x, column, y, error)
            for column, series in enumerate(self.series)
            for x, y, error in series.points
        ]
        for x, column, y, error in sorted(points, key=lambda point: point[0]):
            cells = rows.setdefault(self.position(x), [""] * len(self.series))
            cells[column] = f"{self.value(y)} ± {self.value(error)}" if error else self.value(y)
        return list(rows.items())

    def _in_words(self, series: Series) -> str:
        values = [y for _, y, _ in series.points]
        if not values:
            return gettext("{series}: no readings", series=series.name)
        if len(values) == 1:
            return self.reading(series, *series.points[0])
        return ngettext(
            "{series}: {num} point, {least} to {greatest}",
            "{series}: {num} points, {least} to {greatest}",
            len(values),
            series=series.name,
            least=self.value(min(values)),
            greatest=_with_unit(self.value(max(values)), self.y),
        )

    def _band_in_words(self, band: Band) -> str:
        ends = (band.low[-1], band.high[-1], band.middle[-1])
        low, high, middle = (f"{value:.{self.places}f}" for value in ends)
        return gettext(
            "{band}: {low} to {high} about {middle} at {place}",
            band=band.name,
            low=low,
            high=_with_unit(high, self.y),
            middle=middle,
            place=_with_unit(format(band.x[-1], "g"), self.x),
        )


def _with_unit(number: str, axis: Axis) -> str:
    return f"{number} {axis.unit}".rstrip()
