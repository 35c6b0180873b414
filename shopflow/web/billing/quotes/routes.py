"""Quotes: writing one, looking at the draft, giving it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow import issuing, papers
from shopflow.papers.letters import wrong_letters
from shopflow.services.billing import pricing, quotes, taxes
from shopflow.services.forecasting import forecasts
from shopflow.services.jobs import jobs
from shopflow.services.paperwork import facts
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.quotes.forms import QuoteForm
from shopflow.web.context import today
from shopflow.web.db import db, rollback
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.paperwork.papers.pdf import pdf
from shopflow.web.signature import sign

blueprint = Blueprint("quotes", __name__)


@blueprint.route("/jobs/<number>/quote", methods=["GET", "POST"])
def new(number: str) -> ResponseReturnValue:
    """Give a quote, or its next revision; or look at the draft, which keeps nothing."""
    job = jobs.get(db(), number)
    form = QuoteForm(data=quotes.suggested(db(), actor(), job))
    if form.validate_on_submit():
        with faults_shown(form):
            if form.look.data:
                draft = papers.quote(
                    quotes.prepare(db(), actor(), job, form.quote_values, draft=True)
                )
                rollback()
                return pdf(draft, f"quote-draft-{number}")
            quote_row = issuing.give_quote(db(), actor(), job, form.quote_values, sign())
            flash(
                gettext(
                    "Quote {quote_row} is recorded. It can no longer be changed.",
                    quote_row=quote_row.title,
                )
            )
            return redirect(url_for("payments.index", number=number))
    charges = pricing.charges(pricing.charged(job))
    wrong = wrong_letters(facts.stated_on_papers(db(), job))
    return form_page(
        "quotes/new.html",
        form,
        job=job,
        charges=charges,
        tax=pricing.tax_of(db(), job, charges),
        outdated=taxes.outdated(job.customer, today()),
        wrong=wrong,
        forecasts=forecasts.of_visits(db(), job.heads),
    )
