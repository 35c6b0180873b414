"""Capacity: what each of the next weeks holds, and what is booked in it."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.charts import Axis, BarChart, Bars
from shopflow.services.planning import capacity, floor
from shopflow.services.planning.capacity import Capacity, Week
from shopflow.services.shop import opening_hours
from shopflow.texts import gettext
from shopflow.web.context import minute_of_day, today
from shopflow.web.db import db
from shopflow.web.drawing import bars_drawn
from shopflow.web.filters import month_day

blueprint = Blueprint("capacity", __name__)

APART = 6
"""Kinds of operation that a chart shows each apart; the rest are one."""


@blueprint.get("/floor/capacity")
def index() -> ResponseReturnValue:
    """Hours booked against hours open in each of the next weeks, by step type."""
    hours = opening_hours.open_hours(opening_hours.the_hours(db()))
    now = (today(), minute_of_day())
    booked = capacity.by_week(floor.rows(db(), hours, *now), hours, *now)
    drawing = bars_drawn(_chart(booked), "capacity")
    return render_template(
        "capacity/index.html", booked=booked, drawing=drawing, people=hours.people
    )


def _chart(booked: Capacity) -> BarChart:
    weeks, apart = booked.weeks, [kind for kind in booked.kinds if _booked(booked.weeks, [kind])]
    names = [[kind] for kind in apart[:APART]]
    if len(apart) > APART:
        names.append(apart[APART:])
    bars = [
        Bars(kinds[0] if len(kinds) == 1 else gettext("other kinds"), _hours(weeks, kinds))
        for kinds in names
    ]
    return BarChart(
        gettext("Hours booked by week"),
        [gettext("Week of {month_day}", month_day=month_day(week.first)) for week in weeks],
        Axis(gettext("Hours booked, by step type"), "h"),
        bars,
        places=1,
        end_to_end=True,
        level=Bars(gettext("open"), [week.open_for / 60 for week in weeks]),
    )


def _hours(weeks: list[Week], kinds: list[str]) -> list[float]:
    return [_booked([week], kinds) / 60 for week in weeks]


def _booked(weeks: list[Week], kinds: list[str]) -> int:
    return sum(week.booked[kind] for week in weeks for kind in kinds)
