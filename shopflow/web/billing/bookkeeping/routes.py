"""The ledger over a period by account, its files, and the shop's accounts and columns."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import ValidationError
from shopflow.services.billing import bookkeeping, plain_ledger
from shopflow.services.shop import periods
from shopflow.services.shop.periods import Period
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.bookkeeping.forms import ColumnsForm, accounts_form
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.planning.reports.forms import PeriodForm
from shopflow.web.spreadsheet import csv_answer

blueprint = Blueprint("bookkeeping", __name__, url_prefix="/bookkeeping")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Each account's sums over a period, and the files of it."""
    form = PeriodForm(formdata=request.args if _days() else None)
    totals = None
    if form.validate():
        with faults_shown(form):
            period = _period()
            form.first.data, form.last.data = period.first, period.last
            totals = bookkeeping.totals(db(), period)
    return form_page("bookkeeping/index.html", form, totals=totals, days=_days())


@blueprint.get("/ledger.csv")
def export() -> ResponseReturnValue:
    """Every posting of the period, in the columns that the shop chose."""
    try:
        period = _period()
    except ValidationError:
        return redirect(url_for("bookkeeping.index", **_days()))
    return csv_answer(_name(period), *bookkeeping.file_rows(db(), period))


@blueprint.get("/ledger.beancount")
def plain_text() -> ResponseReturnValue:
    """The ledger of the period as plain text."""
    try:
        period = _period()
    except ValidationError:
        return redirect(url_for("bookkeeping.index", **_days()))
    headers = {"Content-Disposition": f'attachment; filename="{_name(period)}.beancount"'}
    return Response(plain_ledger.written(db(), period), mimetype="text/plain", headers=headers)


@blueprint.route("/accounts", methods=["GET", "POST"])
def accounts() -> ResponseReturnValue:
    """Give accounts the shop's own numbers and names."""
    form = accounts_form(bookkeeping.accounts(db()))
    if form.validate_on_submit():
        with faults_shown(form):
            bookkeeping.name_accounts(db(), actor(), form.named)
            flash(gettext("The accounts are saved."))
            return redirect(url_for("bookkeeping.index"))
    return form_page("bookkeeping/accounts.html", form)


@blueprint.route("/columns", methods=["GET", "POST"])
def columns() -> ResponseReturnValue:
    """Choose the columns of the file."""
    form = ColumnsForm(data={"columns": bookkeeping.columns_in_words(db())})
    if form.validate_on_submit():
        with faults_shown(form):
            bookkeeping.choose_columns(db(), actor(), form.columns.data)
            flash(gettext("The columns are saved."))
            return redirect(url_for("bookkeeping.index"))
    return form_page("bookkeeping/columns.html", form)


def _name(period: Period) -> str:
    return f"ledger-{period.first}-{period.last}"


def _period() -> Period:
    days = _days()
    return periods.read(db(), days.get("from", ""), days.get("to", ""), today())


def _days() -> dict[str, Any]:
    return {name: request.args[name] for name in ("from", "to") if name in request.args}
