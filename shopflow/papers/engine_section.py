"""The part of a sheet on the engine behind the ports: demand, potential, ranges, results."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from reportlab.lib.units import mm
from reportlab.platypus import CondPageBreak, Flowable

from shopflow.charts import layout
from shopflow.documents import Display, EngineView, Figure
from shopflow.papers.engine_view import (
    ABOUT,
    cautions,
    demand_chart,
    demand_figures,
    potential_figures,
    range_rows,
    remarks,
    reported_rows,
)
from shopflow.papers.figures import ChartFigure
from shopflow.papers.style import NOTE, SMALLEST, gap, heading, para, subheading
from shopflow.papers.tables import Column, grid
from shopflow.texts import gettext

CHART_HEIGHT, CHART_TYPE = 140.0, SMALLEST


def engine_section(view: EngineView, display: Display, width: float) -> list[Flowable]:
    """The section's parts, under its heading."""
    return [
        *heading(gettext("Engine at {speed}", speed=view.speed), 60 * mm),
        *_demand(view, display, width),
        *_potential(view, display, width),
        *_reported(view, display, width),
        gap(6),
        *(para(text, NOTE) for text in ABOUT),
    ]


def figure_table(figures: Sequence[Figure], width: float) -> Flowable:
    """Figures with their values and workings."""
    columns = [
        Column(gettext("Result"), share=0.24),
        Column(gettext("Value"), share=0.2),
        Column(gettext("Working"), share=0.56),
    ]
    return grid(columns, [[row.name, row.value, row.working] for row in figures], width)


def _demand(view: EngineView, display: Display, width: float) -> Iterator[Flowable]:
    if view.demand.curve is not None:
        chart = demand_chart(view.demand.curve, view.speed)
        yield ChartFigure(layout(chart, width, CHART_HEIGHT, CHART_TYPE))
    yield figure_table(demand_figures(view, display.units), width)
    for text in remarks(view):
        yield para(text, NOTE)


def _potential(view: EngineView, display: Display, width: float) -> Iterator[Flowable]:
    figures = potential_figures(view, display.units)
    if not figures:
        return
    yield CondPageBreak(60 * mm)
    yield gap(8)
    yield subheading(gettext("Air and power potential, 19 times in 20"), level=2)
    yield figure_table(figures, width)
    ends = "; ".join(f"{name}: {text}" for name, text in range_rows(view))
    yield para(gettext("Ranges used ({of}): {ends}.", of=view.ranges_of, ends=ends), NOTE)
    if view.ranges_source:
        yield para(gettext("Source of the ranges: {source}.", source=view.ranges_source), NOTE)
    for text in cautions(view):
        yield para(text, NOTE)


def _reported(view: EngineView, display: Display, width: float) -> Iterator[Flowable]:
    rows = reported_rows(view, display)
    if not rows:
        return
    columns = [
        Column(gettext("Reported"), share=0.25),
        Column(gettext("Result"), share=0.4),
        Column(gettext("Against the forecast"), share=0.35),
    ]
    yield CondPageBreak(35 * mm)
    yield gap(8)
    yield subheading(gettext("Results reported"), level=2)
    yield grid(columns, [list(row) for row in rows], width, 1.8)
