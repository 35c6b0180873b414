"""Invoices: issuing one, looking at it, taking it back by a credit note."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.papers.letters import wrong_letters
from shopflow.services import charges, credits, documents, invoices, jobs, payments
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.invoices.forms import IssueForm, credit_form

blueprint = Blueprint("invoices", __name__)


@blueprint.route("/jobs/<number>/invoice", methods=["GET", "POST"])
def issue(number: str) -> ResponseReturnValue:
    """Look over what is to be invoiced, and issue it."""
    job = jobs.get(db(), number)
    form = IssueForm()
    if form.validate_on_submit():
        with faults_shown(form):
            made = invoices.issue(db(), actor(), job)
            flash(f"Invoice {made.number} is issued. It cannot be changed any more.")
            return redirect(url_for("invoices.invoice", number=made.number))
    steps = invoices.to_invoice(db(), job)
    tax = charges.tax(db(), job, steps)
    account = payments.account(db(), job)
    wrong = wrong_letters(documents.stated_on_papers(db(), job))
    return form_page(
        "invoices/new.html", form, job=job, steps=steps, tax=tax, account=account, wrong=wrong
    )


@blueprint.get("/invoices/<number>")
def invoice(number: str) -> ResponseReturnValue:
    """One issued invoice or credit note."""
    return render_template("invoices/invoice.html", invoice=invoices.get(db(), number))


@blueprint.route("/invoices/<number>/credit", methods=["GET", "POST"])
def credit(number: str) -> ResponseReturnValue:
    """Take an invoice back by a credit note, whole or in part."""
    found = invoices.get(db(), number)
    lines = credits.left(found)
    form = credit_form(lines)
    if form.validate_on_submit():
        with faults_shown(form):
            made = credits.credit(db(), actor(), found, form.reason.data or "", form.amounts)
            flash(f"Credit note {made.number} is issued over {made.total:.2f} of {number}.")
            return redirect(url_for("invoices.invoice", number=made.number))
    return form_page("invoices/credit.html", form, invoice=found, lines=lines)
