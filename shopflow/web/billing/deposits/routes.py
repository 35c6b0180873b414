"""Deposit invoices: issuing one ahead of the work."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow import issuing
from shopflow.services.billing import deposit_invoices, deposits
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.deposits.forms import DepositForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.signature import sign

blueprint = Blueprint("deposits", __name__)


@blueprint.route("/jobs/<number>/deposit-invoice", methods=["GET", "POST"])
def issue(number: str) -> ResponseReturnValue:
    """Issue an invoice of a deposit, which the invoices that follow take off."""
    job = jobs.get(db(), number)
    form = DepositForm.of(get_shop(db()), deposit_invoices.suggested(db(), job))
    if form.validate_on_submit():
        with faults_shown(form):
            row = issuing.issue_deposit_invoice(db(), actor(), job, form.values, sign())
            flash(
                gettext("Invoice {number} is issued. It can no longer be changed.",
                        number=row.number)
            )  # fmt: skip
            return redirect(url_for("invoices.invoice", number=row.number))
    return form_page("deposits/issue.html", form, job=job, deposits=deposits.of_job(db(), job))
