"""A job's money: quotes, approvals, payments, invoices and what is left to pay."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.billing import approvals, balances, payments, quotes, timeline
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.payments.forms import PaymentForm
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.following import following_of
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("payments", __name__, url_prefix="/jobs/<number>/money")


@blueprint.get("")
def index(number: str) -> ResponseReturnValue:
    """Everything about a job's money on one page."""
    job = jobs.get(db(), number)
    return render_template(
        "payments/index.html",
        job=job,
        balance=balances.of_job(db(), job),
        timeline=timeline.of_job(db(), job),
        following=following_of(job),
        has_quote=bool(quotes.of_job(db(), job)),
        has_open_quote=quotes.awaiting(db(), job) is not None,
        declined=approvals.declined(job),
    )


@blueprint.route("/payments/new", methods=["GET", "POST"])
def pay(number: str) -> ResponseReturnValue:
    """Record a payment."""
    job = jobs.get(db(), number)
    balance = balances.of_job(db(), job)
    due = balance.left if balance.left > 0 else None
    form = PaymentForm(data={"received_on": today(), "amount": due})
    form.take_way()
    if form.validate_on_submit():
        with faults_shown(form):
            payments.record(db(), actor(), job, form.values)
            flash(gettext("The payment is recorded."))
            return redirect(url_for("payments.index", number=job.number))
    return form_page(
        "payments/pay.html", form, job=job, balance=balance, ways=payments.usual_ways(db())
    )
