"""Charts on a page: which quantity is drawn against what, and the drawing with its table."""

from __future__ import annotations

import re
from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from shopflow.calc import results
from shopflow.calc.array_types import Against
from shopflow.calc.result import Result
from shopflow.charts import BarChart, Chart, layout, layout_bars, svg
from shopflow.charts.gain_map import GainMap, layout_gain_map
from shopflow.charts.head_map import HeadMap, layout_head_map
from shopflow.charts.marks import Drawing
from shopflow.charts.silhouette import Silhouette, layout_silhouette
from shopflow.charts.velocity_map import VelocityMap, layout_velocity_map
from shopflow.papers.curves import DRAWN_FIRST
from shopflow.texts import gettext

SIDE = re.compile(r"[0-9]{1,5}")
SMALLEST, LARGEST = 240.0, 1600.0
"""Least and greatest width and height of a chart drawn to fit."""


def plots() -> dict[str, str]:
    """Results that can be drawn, by their name in an address."""
    return {word: row.name for word, row in results.plotted().items()}


@dataclass(frozen=True)
class View:
    """Quantity drawn and the axis it is drawn against."""

    plot: str = DRAWN_FIRST
    against: Against = Against.LIFT

    @classmethod
    def from_query(
        cls, arguments: Mapping[str, str], stated: Mapping[str, str] | None = None
    ) -> View:
        """Read the view from an address; unknown values become the usual ones."""
        plot = arguments.get("plot", "")
        over_diameter = arguments.get("against") == Against.OVER_DIAMETER
        return cls(
            plot if plot in (plots() if stated is None else stated) else DRAWN_FIRST,
            Against.OVER_DIAMETER if over_diameter else Against.LIFT,
        )

    @property
    def quantity(self) -> Result:
        """The result of a test that is drawn; flow where it is none."""
        rows = results.plotted()
        return rows.get(self.plot, rows[DRAWN_FIRST])

    @property
    def title(self) -> str:
        """Heading of the drawing."""
        plot = plots().get(self.plot, gettext("Difference in flow"))
        if self.against is Against.OVER_DIAMETER:
            return gettext("{plot} against lift over valve diameter", plot=plot)
        return gettext("{plot} against lift", plot=plot)


@dataclass(frozen=True)
class Size:
    """Width and height of a chart on a page, in CSS pixels."""

    width: float = 560.0
    height: float = 300.0

    @classmethod
    def from_texts(cls, width: str, height: str) -> Size:
        """Read the size that a page's script measured; the usual one where there is none."""
        if not (SIDE.fullmatch(width) and SIDE.fullmatch(height)):
            return cls()
        return cls(
            min(max(float(width), SMALLEST), LARGEST), min(max(float(height), SMALLEST), LARGEST)
        )


USUAL_SIZE = Size()


@dataclass(frozen=True)
class Drawn:
    """A chart, and its drawing for the page."""

    chart: Chart
    drawing: Markup
    prefix: str


NARROW = 262.0
"""Width of the drawing for a phone, in CSS pixels: it is shown no smaller on one 320 wide."""

NARROW_HEIGHT = 250.0


def draw(chart: Chart, prefix: str, width: float = 560.0, height: float = 300.0) -> Drawn:
    """Draw a chart for a wide and for a narrow place, of which the style sheet shows one.

    `prefix` keeps its ids apart from others' on the page.
    """
    wide = layout(chart, width, height)
    narrow = layout(chart, NARROW, NARROW_HEIGHT, names_below=True)
    return Drawn(chart, _both(wide, narrow, prefix), prefix)


def bars_drawn(chart: BarChart, prefix: str, width: float = 760.0) -> Markup:
    """Draw a bar chart likewise; its figures are in a table of the page's own."""
    wide, narrow = layout_bars(chart, width), layout_bars(chart, NARROW, names_above=True)
    return _both(wide, narrow, prefix)


def silhouette_drawn(silhouette: Silhouette, prefix: str, width: float = 760.0) -> Markup:
    """Draw a port's silhouette likewise; its figures are in a table of the page's own."""
    wide, narrow = (layout_silhouette(silhouette, each) for each in (width, NARROW))
    return _both(wide, narrow, prefix)


def velocity_map_drawn(content: VelocityMap, width: float = 560.0) -> Markup:
    """Draw a velocity map likewise."""
    wide, narrow = (layout_velocity_map(content, each) for each in (width, NARROW))
    return _both(wide, narrow, "velocity-map")


def head_drawn(plan: HeadMap | GainMap, prefix: str, width: float = 760.0) -> Markup:
    """Draw a map of a head likewise."""
    wide, narrow = (
        layout_gain_map(plan, each) if isinstance(plan, GainMap) else layout_head_map(plan, each)
        for each in (width, NARROW)
    )
    return _both(wide, narrow, prefix)


def _both(wide: Drawing, narrow: Drawing, prefix: str) -> Markup:
    drawn = svg.render(wide, prefix, "wide") + svg.render(narrow, f"{prefix}-narrow", "narrow")
    # The text in it was escaped when the drawing was written.
    return Markup(f'<div class="chart-box">{drawn}</div>')
