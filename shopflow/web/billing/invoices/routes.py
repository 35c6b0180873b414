"""Invoices: issuing one, looking at it, taking it back by a credit note."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow import issuing, papers
from shopflow.papers.letters import wrong_letters
from shopflow.services.billing import balances, credits, e_invoices, invoices, pricing, taxes
from shopflow.services.jobs import jobs
from shopflow.services.paperwork import facts
from shopflow.services.shop.house_style import the_style
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.invoices.forms import IssueForm, credit_form
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.paperwork.papers.pdf import pdf
from shopflow.web.signature import sign

blueprint = Blueprint("invoices", __name__)


@blueprint.route("/jobs/<number>/invoice", methods=["GET", "POST"])
def issue(number: str) -> ResponseReturnValue:
    """Choose what is invoiced, look at its lines, head and total, and issue it."""
    job = jobs.get(db(), number)
    balance = balances.of_job(db(), job)
    form = IssueForm.offering(balance)
    is_looked_at = form.look.data or form.take_head(balance, request.form.get("only", ""))
    if form.validate_on_submit() and not is_looked_at:
        with faults_shown(form):
            if form.preview.data:
                content = invoices.preview(db(), actor(), job, form.chosen)
                return pdf(papers.invoice(content), f"invoice-preview-{number}")
            invoice_issued = issuing.issue_invoice(db(), actor(), job, form.chosen, sign())
            flash(
                gettext(
                    "Invoice {invoice_issued} is issued. It can no longer be changed.",
                    invoice_issued=invoice_issued.number,
                )
            )
            return redirect(url_for("invoices.invoice", number=invoice_issued.number))
    charges, tax = invoices.offered(db(), job, balance, form.chosen)
    return form_page(
        "invoices/new.html",
        form,
        job=job,
        balance=balance,
        charges=charges,
        groups=pricing.by_head(job, charges),
        tax=tax,
        outdated=taxes.outdated(job.customer, today()),
        style=the_style(db()),
        lacking=e_invoices.missing(db(), job.customer, tax),
        wrong=wrong_letters(facts.stated_on_papers(db(), job)),
    )


@blueprint.get("/invoices/<number>")
def invoice(number: str) -> ResponseReturnValue:
    """One issued invoice or credit note."""
    row = invoices.get(db(), number)
    return render_template(
        "invoices/invoice.html", invoice=row, is_electronic=e_invoices.is_in(row)
    )


@blueprint.route("/invoices/<number>/credit", methods=["GET", "POST"])
def credit(number: str) -> ResponseReturnValue:
    """Take an invoice back by a credit note, whole or in part."""
    invoice_row = invoices.get(db(), number)
    lines = credits.open_lines(invoice_row)
    form = credit_form(lines)
    if form.validate_on_submit():
        with faults_shown(form):
            note = issuing.issue_credit_note(
                db(), actor(), invoice_row, form.reason.data or "", form.amounts, sign()
            )
            flash(
                gettext(
                    "Credit note {note} is issued over {total:.2f} of {number}.",
                    note=note.number,
                    total=note.total,
                    number=number,
                )
            )
            return redirect(url_for("invoices.invoice", number=note.number))
    lacking = e_invoices.missing_of_credit(db(), invoice_row)
    return form_page(
        "invoices/credit.html", form, invoice=invoice_row, lines=lines, lacking=lacking
    )
