"""Springs and shims of a head: the load chart for page and paper, each side's tables, the list."""

from __future__ import annotations

from collections.abc import Sequence

from reportlab.platypus import Flowable, KeepTogether

from shopflow.charts import Axis, Chart, Series, Shade, layout
from shopflow.documents import EachValve, Figure, SpringCurve, SpringList, SpringSide, cautions
from shopflow.documents.head import identifiers
from shopflow.papers.blocks import take_care
from shopflow.papers.figures import ChartFigure
from shopflow.papers.language import in_its_language
from shopflow.papers.sheet import Sheet
from shopflow.papers.style import (
    CELL,
    CELL_BOLD,
    NOTE,
    STRONG,
    SUBTITLE,
    gap,
    heading,
    paper_title,
    para,
)
from shopflow.papers.tables import Column, facts, grid
from shopflow.texts import gettext
from shopflow.units import from_si, pretty

CHART_HEIGHT, CHART_TYPE = 190.0, 8.5
AS_MEASURED = frozenset({"shims_in", "installed_height"})
"""Columns that may hold a second unit in brackets."""


@in_its_language
def spring_list(*lists: SpringList) -> bytes:
    """The spring and shim lists of one job's heads as one PDF."""
    first = lists[0]
    frame = Sheet(
        first.shop, first.display, gettext("Spring and shim list"), first.head.tag, first.made_at
    )
    story: list[Flowable] = []
    for content in lists:
        story += _list(content, frame.width)
    return frame.build(story)


def _list(content: SpringList, width: float) -> list[Flowable]:
    head = content.head
    entered = [side for side in content.sides if side.is_known]
    story: list[Flowable] = [
        paper_title(content.title),
        para(gettext("Values measured in other units follow in brackets as measured."), SUBTITLE),
        *facts(
            [
                (gettext("Job"), content.job),
                (gettext("Customer"), content.customer.name),
                (gettext("Engine type"), head.engine_type),
                (gettext("Known by"), identifiers(head) or gettext("not recorded")),
                (gettext("Printed"), content.display.moment(content.made_at)),
            ],
            width,
        ),
    ]
    for side in entered:
        story += _whole_side(side, width)
    if not entered:
        story += [gap(8), para(gettext("No springs and no measurements yet."))]
    warned = [cautions.BY_HAZARD["springs"], *([cautions.BOOSTED] if content.boosted else [])]
    return [*story, *take_care(warned, width)]


def _whole_side(side: SpringSide, width: float) -> list[Flowable]:
    drawn: list[Flowable] = []
    if side.curve is not None:
        chart = spring_chart(side)
        drawn = [gap(6), ChartFigure(layout(chart, width, CHART_HEIGHT, CHART_TYPE))]
    return [*record_story(side, width), *drawn, *side_story(side, width)]


def record_story(side: SpringSide, width: float) -> list[Flowable]:
    """A side's springs as on record, and what they come to at the height wanted."""
    title = heading(side_title(side))
    return [KeepTogether([*title, _figures(side.figures, width)])] if side.figures else title


def side_title(side: SpringSide) -> str:
    """Heading of a side, as "Exhaust springs: dual, orange stripe"."""
    title = gettext("Intake springs") if side.side == "intake" else gettext("Exhaust springs")
    return f"{title}: {side.name}" if side.name else title


def _figures(figures: Sequence[Figure], width: float) -> Flowable:
    columns = [
        Column(gettext("Value"), share=0.3),
        Column("", share=0.24),
        Column(gettext("Source"), share=0.46),
    ]
    return grid(
        columns, [[figure.name, figure.value, figure.working] for figure in figures], width, 2.0
    )


def side_story(side: SpringSide, width: float) -> list[Flowable]:
    """A side's springs valve by valve, the worst named, and the shims to pick."""
    story: list[Flowable] = []
    if side.measured:
        title = {
            "intake": gettext("Each intake valve"), "exhaust": gettext("Each exhaust valve"),
        }[side.side]  # fmt: skip
        story += [*heading(title), each_valve(side.measured, width)]
    lines = [*side.alarms, *(f"{sentence}." for sentence in side.worst)]
    lines += [*filter(None, (side.picking,)), *side.cautions]
    if lines:
        story += [gap(4), *(para(line, STRONG if "≈" not in line else NOTE) for line in lines)]
    return [*story, *(para(line, NOTE) for line in side.missing)]


def each_valve(valves: Sequence[EachValve], width: float) -> Flowable:
    """Valves down, values across; a value that no valve has takes no column."""
    shown = [
        (title, name) for title, name in column_titles().items()
        if any(getattr(valve, name) for valve in valves)
    ]  # fmt: skip
    columns = [
        Column(gettext("Valve"), share=1.5),
        *(Column(title, share=1.2 if name in AS_MEASURED else 1.0) for title, name in shown),
        Column(gettext("Verdict"), share=1.6),
    ]
    rows = [
        [
            valve.where,
            *(getattr(valve, name) or "–" for _, name in shown),
            para(valve.verdict, CELL_BOLD if valve.is_out or valve.is_incomplete else CELL),
        ]
        for valve in valves
    ]
    return grid(columns, rows, width, 1.8)


def column_titles() -> dict[str, str]:
    """Titles of the values of a valve and their names, in the order of their columns."""
    return {
        gettext("Shims in now"): "shims_in",
        gettext("Height now"): "installed_height",
        gettext("Add"): "shims",
        gettext("Height then"): "fitted_height",
        gettext("Seat load"): "seat_load",
        gettext("Left under pressure"): "held",
        gettext("Load at full lift"): "load_at_lift",
        gettext("To coil bind"): "room_to_coil_bind",
        gettext("Retainer to guide"): "retainer_room",
        gettext("Out of square"): "squareness",
    }


def spring_chart(side: SpringSide) -> Chart:
    """Load against height, with every valve on its seat and at full lift.

    Raises ValueError for a side without loads.
    """
    curve = side.curve
    if curve is None:
        raise ValueError(gettext("a side without loads has nothing to draw"))
    loads = [load for _, load in (*curve.path, *curve.seats, *curve.opens)]
    return Chart(
        title=side_title(side),
        x=Axis(gettext("Height of the spring"), pretty(curve.height_unit)),
        y=Axis(gettext("Load"), pretty(curve.load_unit)),
        series=list(_series(curve)),
        places=1 if curve.load_unit == "lbf" else 0,
        x_places=3 if curve.height_unit == "in" else 2,
        x_from_zero=False,
        shades=_bound(curve, max(loads)),
    )


def _series(curve: SpringCurve) -> list[Series]:
    drawn = [
        (gettext("Spring"), curve.points, curve.path),
        (gettext("On the seat"), curve.seats, ()),
        (gettext("At full lift"), curve.opens, ()),
    ]
    return [
        Series(
            name=name,
            x=[from_si(height, curve.height_unit) for height, _ in points],
            y=[from_si(load, curve.load_unit) for _, load in points],
            joined=bool(path),
            path=[
                (from_si(height, curve.height_unit), from_si(load, curve.load_unit))
                for height, load in path
            ],
        )
        for name, points, path in drawn
        if points
    ]


def _bound(curve: SpringCurve, load: float) -> list[Shade]:
    """The heights at which the spring is solid, shaded."""
    if curve.coil_bind is None:
        return []
    bind = from_si(curve.coil_bind, curve.height_unit)
    lowest = min(height for height, _ in (*curve.path, *curve.opens))
    reach = 0.04 * (from_si(max(height for height, _ in curve.path), curve.height_unit) - bind)
    start = min(bind - reach, from_si(lowest, curve.height_unit))
    top = from_si(load, curve.load_unit)
    return [Shade(gettext("Coil bind"), [start, bind], [top, top])]
