"""Charts on a page: which quantity is drawn against what, and the drawing with its table."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from markupsafe import Markup

from shopflow.calc.array_types import Against
from shopflow.charts import BarChart, Chart, layout, layout_bars, svg
from shopflow.papers.curves import QUANTITIES, Quantity
from shopflow.texts import gettext

PLOTS = {word: quantity.name for word, quantity in QUANTITIES.items()}
"""Quantities that can be drawn, by their name in an address."""


@dataclass(frozen=True)
class View:
    """Quantity drawn and the axis it is drawn against."""

    plot: str = "flow"
    against: Against = Against.LIFT

    @classmethod
    def from_query(cls, arguments: Mapping[str, str], plots: Mapping[str, str] = PLOTS) -> View:
        """Read the view from an address; unknown values become the usual ones."""
        plot = arguments.get("plot", "")
        over_diameter = arguments.get("against") == Against.OVER_DIAMETER
        return cls(
            plot if plot in plots else "flow",
            Against.OVER_DIAMETER if over_diameter else Against.LIFT,
        )

    @property
    def quantity(self) -> Quantity:
        """The quantity of a session that is drawn; flow where it is none."""
        return QUANTITIES.get(self.plot, QUANTITIES["flow"])

    @property
    def title(self) -> str:
        """Heading of the drawing."""
        against = (
            gettext("lift over valve diameter") if self.against is Against.OVER_DIAMETER else "lift"
        )
        return f"{PLOTS.get(self.plot, 'Difference in flow')} against {against}"


@dataclass(frozen=True)
class Drawn:
    """A chart, and its drawing for the page."""

    chart: Chart
    drawing: Markup
    prefix: str


def draw(chart: Chart, prefix: str, width: float = 560.0, height: float = 300.0) -> Drawn:
    """Draw a chart; `prefix` keeps its ids apart from others' on the page."""
    # The text in it was escaped when the drawing was written.
    return Drawn(chart, Markup(svg.render(layout(chart, width, height), prefix)), prefix)


def bars_drawn(chart: BarChart, prefix: str, width: float = 760.0) -> Markup:
    """Draw a bar chart; its figures stand in a table of the page's own."""
    return Markup(svg.render(layout_bars(chart, width), prefix))
