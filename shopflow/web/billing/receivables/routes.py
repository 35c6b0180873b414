"""The page of unpaid invoices, and the same for a spreadsheet."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.services.billing import receivables, reminders
from shopflow.spreadsheet import Cell
from shopflow.texts import gettext
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.spreadsheet import csv_answer

blueprint = Blueprint("receivables", __name__)


@blueprint.get("/unpaid")
def index() -> ResponseReturnValue:
    """Every unpaid invoice by customer, those with the oldest debt first."""
    owed = receivables.on_day(db(), today())
    due = reminders.due(db(), owed.debtors)
    return render_template("receivables/index.html", owed=owed, due=due)


@blueprint.get("/unpaid.csv")
def export() -> ResponseReturnValue:
    """Every unpaid invoice for a spreadsheet."""
    owed = receivables.on_day(db(), today())
    header = [
        gettext("customer"), gettext("invoice"), gettext("job"), gettext("issued"),
        gettext("due"), gettext("days overdue"), gettext("total"), gettext("unpaid"),
    ]  # fmt: skip
    rows: list[list[Cell]] = [
        [
            row.customer.name, row.invoice.number, row.invoice.job.number,
            row.issued_on.isoformat(), row.due_on.isoformat(), row.days_overdue,
            row.invoice.total, row.open,
        ]
        for row in owed.invoices
    ]  # fmt: skip
    return csv_answer("unpaid", header, rows)
