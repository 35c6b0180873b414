"""Charts: plain series to one drawing, for the screen (SVG) and for paper (PDF)."""

from shopflow.charts.bars import BarChart, Bars, layout_bars
from shopflow.charts.chart import Axis, Band, Chart, Series, Shade
from shopflow.charts.layout import layout

__all__ = ["Axis", "Band", "BarChart", "Bars", "Chart", "Series", "Shade", "layout", "layout_bars"]
