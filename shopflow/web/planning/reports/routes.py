"""Reports: one at a time over a period, on the page and as CSV."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any, TypeVar

from flask import Blueprint, abort, redirect, request, url_for
from flask.typing import ResponseReturnValue
from sqlalchemy.orm import Session

from shopflow.errors import ValidationError
from shopflow.papers.engine_view import of_kind
from shopflow.services.engine import engine_results
from shopflow.services.forecasting import held_out, kept_forecasts
from shopflow.services.shop import periods
from shopflow.services.shop.periods import Period
from shopflow.texts import gettext, lazy
from shopflow.web.context import system, today
from shopflow.web.db import db
from shopflow.web.drawing import bars_drawn, draw
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.planning.reports import engines as engine_rows
from shopflow.web.planning.reports import tables
from shopflow.web.planning.reports.forms import PeriodForm
from shopflow.web.planning.reports.outcomes import (
    header,
    held_out_chart,
    outcomes_chart,
    rows,
)
from shopflow.web.planning.reports.tables import Table
from shopflow.web.spreadsheet import csv_answer

blueprint = Blueprint("reports", __name__, url_prefix="/reports")

Content = TypeVar("Content")
Make = Callable[[Session, Period], Table]
REPORTS: dict[str, tuple[str, Make]] = {
    "jobs": (lazy("Jobs by month"), tables.jobs_by_month),
    "turnaround": (lazy("Turnaround against promise"), tables.turnaround),
    "hours": (lazy("Hours by step type"), tables.hours_by_kind),
    "gains": (lazy("Gains by engine type"), tables.gains_by_engine_type),
}
MONEY: dict[str, tuple[str, Make]] = {
    "revenue": (lazy("Revenue by month"), tables.revenue_by_month),
    "takings": (lazy("Money received by day"), tables.takings_by_day),
    "tax": (lazy("Tax by month"), tables.tax_by_month),
}
"""Reports of money, for the office alone."""


@blueprint.get("")
def index() -> ResponseReturnValue:
    """The first of the reports."""
    return redirect(url_for("reports.report", name="jobs", **_days()))


@blueprint.get("/<name>")
def report(name: str) -> ResponseReturnValue:
    """A report's chart and table."""
    return _page(name, *_of(name))


@blueprint.get("/<name>.csv")
def export(name: str) -> ResponseReturnValue:
    """A report's table for a spreadsheet."""
    return _csv(name, _of(name)[1])


@blueprint.get("/money/<name>")
def money(name: str) -> ResponseReturnValue:
    """Chart and table of a report of money."""
    return _page(name, *_of_money(name))


@blueprint.get("/money/<name>.csv")
def money_export(name: str) -> ResponseReturnValue:
    """The table of a report of money for a spreadsheet."""
    return _csv(name, _of_money(name)[1])


@blueprint.get("/forecasts")
def forecasts() -> ResponseReturnValue:
    """Forecasts kept when their steps were started, with what came."""
    form, record = _over_period(lambda period: kept_forecasts.record(db(), period))
    past = held_out.latest(db())
    return _shown(
        "reports/forecasts.html",
        form,
        "forecasts",
        title=gettext("Forecasts and outcomes"),
        download=url_for("reports.forecasts_export", **_days()),
        content=record,
        record=record,
        chart=draw(outcomes_chart(record), "outcomes") if record and record.outcomes else None,
        held_out=past,
        held_out_chart=draw(held_out_chart(past), "held-out") if past else None,
    )


@blueprint.get("/forecasts.csv")
def forecasts_export() -> ResponseReturnValue:
    """The same for a spreadsheet."""
    try:
        record = kept_forecasts.record(db(), _period())
    except ValidationError:
        return redirect(url_for("reports.forecasts", **_days()))
    return csv_answer("forecasts", header(), rows(record))


@blueprint.get("/engines")
def engines() -> ResponseReturnValue:
    """Power forecasts saved before customers reported their results, with these."""
    form, outcomes = _over_period(lambda period: engine_results.outcomes(db(), period))
    return _shown(
        "reports/engines.html",
        form,
        "engines",
        title=gettext("Power forecasts and results"),
        download=url_for("reports.engines_export", **_days()),
        content=outcomes,
        outcomes=outcomes,
        intervals=[
            of_kind(outcome.interval, system(), "engine power") for outcome in outcomes or []
        ],
        record=engine_results.record_of(outcomes or []),
        chart=draw(engine_rows.power_chart(outcomes, system()), "power") if outcomes else None,
    )


@blueprint.get("/engines.csv")
def engines_export() -> ResponseReturnValue:
    """The same for a spreadsheet."""
    try:
        outcomes = engine_results.outcomes(db(), _period())
    except ValidationError:
        return redirect(url_for("reports.engines", **_days()))
    return csv_answer("engines", engine_rows.header(), engine_rows.rows(outcomes))


def _of(name: str) -> tuple[str, Make]:
    return REPORTS.get(name) or abort(404)


def _of_money(name: str) -> tuple[str, Make]:
    return MONEY.get(name) or abort(404)


def _page(name: str, title: str, make: Make) -> ResponseReturnValue:
    form, table = _over_period(lambda period: make(db(), period))
    return _shown(
        "reports/report.html",
        form,
        name,
        title=title,
        download=url_for(
            "reports.money_export" if name in MONEY else "reports.export", name=name, **_days()
        ),
        content=table,
        table=table,
        drawing=bars_drawn(table.chart, name) if table and table.rows else None,
    )


def _over_period(read: Callable[[Period], Content]) -> tuple[PeriodForm, Content | None]:
    """The form with the period shown, and what is read over it; None where it has a fault."""
    form = PeriodForm(formdata=request.args if _days() else None)
    content: Content | None = None
    if form.validate():
        with faults_shown(form):
            period = _period()
            form.first.data, form.last.data = period.first, period.last
            content = read(period)
    return form, content


def _shown(template: str, form: PeriodForm, name: str, **context: Any) -> ResponseReturnValue:
    """A report's page, with the choice of all others."""
    return form_page(
        template,
        form,
        name=name,
        reports=_names(REPORTS),
        money_reports=_names(MONEY),
        days=_days(),
        **context,
    )


def _names(listed: dict[str, tuple[str, Make]]) -> dict[str, str]:
    return {word: words for word, (words, _) in listed.items()}


def _csv(name: str, make: Make) -> ResponseReturnValue:
    try:
        table = make(db(), _period())
    except ValidationError:
        page = "reports.money" if name in MONEY else "reports.report"
        return redirect(url_for(page, name=name, **_days()))
    return csv_answer(name, table.header, table.rows)


def _period() -> Period:
    days = _days()
    return periods.read(db(), days.get("from", ""), days.get("to", ""), today())


def _days() -> dict[str, Any]:
    """The period as the address has it."""
    return {name: request.args[name] for name in ("from", "to") if request.args.get(name)}
