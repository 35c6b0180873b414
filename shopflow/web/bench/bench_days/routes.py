"""The day of a bench: its checks before the first test, and plates exchanged."""

from __future__ import annotations

from datetime import date

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError
from shopflow.models import Bench
from shopflow.services.bench import bench_days, benches, leak_checks, plate_exchanges
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.bench_days.forms import ExchangeForm, LeakCheckForm, WarmUpForm
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("bench_days", __name__, url_prefix="/benches")


@blueprint.get("/<int:bench_id>/day")
def current(bench_id: int) -> ResponseReturnValue:
    """Today's checks of a bench, in their order."""
    return _page(benches.get(db(), bench_id), today(), WarmUpForm())


@blueprint.get("/<int:bench_id>/days/<day>")
def past(bench_id: int, day: str) -> ResponseReturnValue:
    """The checks of a bench on a day."""
    return _page(benches.get(db(), bench_id), _day(day), WarmUpForm())


@blueprint.post("/<int:bench_id>/day/warm-up")
def warm_up(bench_id: int) -> ResponseReturnValue:
    """Record today's warm-up."""
    bench = benches.get(db(), bench_id)
    form = WarmUpForm()
    if form.validate_on_submit():
        with faults_shown(form):
            bench_days.warm_up(db(), actor(), bench, today(), form.values)
            return redirect(url_for("bench_days.current", bench_id=bench.id))
    return _page(bench, today(), form)


@blueprint.route("/ranges/<int:range_id>/leak-check", methods=["GET", "POST"])
def leak_check(range_id: int) -> ResponseReturnValue:
    """Record a leak check of a range."""
    row = benches.get_range(db(), range_id)
    form = LeakCheckForm.after(row.leak_checks[-1] if row.leak_checks else None)
    if form.validate_on_submit():
        with faults_shown(form):
            leak_checks.record(db(), actor(), row, form.values)
            flash(gettext("The leak check is saved: tests of today start with its leakage."))
            return redirect(url_for("bench_days.current", bench_id=row.bench_id))
    return form_page("bench_days/leak_check.html", form, range=row, bench=row.bench)


@blueprint.route("/ranges/<int:range_id>/exchange", methods=["GET", "POST"])
def exchange(range_id: int) -> ResponseReturnValue:
    """Record a plate that another shop measured too."""
    row = benches.get_range(db(), range_id)
    form = ExchangeForm.on(today())
    if form.validate_on_submit():
        with faults_shown(form):
            item = plate_exchanges.record(db(), actor(), row, form.values)
            number = f"{plate_exchanges.score(item):+.2f}".replace("-", "−")
            flash(
                gettext(
                    "The exchange is saved: En {number}, {verdict}.",
                    number=number,
                    verdict=plate_exchanges.verdict(item),
                )
            )
            return redirect(url_for("benches.bench", bench_id=row.bench_id))
    return form_page("bench_days/exchange.html", form, range=row, bench=row.bench)


def _page(bench: Bench, day: date, form: WarmUpForm) -> ResponseReturnValue:
    return form_page(
        "bench_days/day.html",
        form,
        bench=bench,
        shown=bench_days.of_bench(db(), bench, day),
        is_today=day == today(),
    )


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise NotFoundError(gettext("this day does not exist")) from None
