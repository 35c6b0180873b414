"""Customers' private links: making, looking at and revoking them."""

from __future__ import annotations

from flask import Blueprint, flash, make_response, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.counter import customer_view
from shopflow.services.jobs import jobs
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.registry import customer_links
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.counter.customer_view.showing import job_page
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.customer_links.forms import link_form

blueprint = Blueprint("customer_links", __name__)


@blueprint.route("/jobs/<number>/link", methods=["GET", "POST"])
def make(number: str) -> ResponseReturnValue:
    """Make a private link, and show its address this once."""
    job = jobs.get(db(), number)
    form = link_form(customer_view.certificates(job))
    if form.validate_on_submit():
        with faults_shown(form):
            link, address = customer_links.make(
                db(), actor(), job, form.days.data,
                shows_prices=form.shows_prices.data, certificates=form.certificates,
            )  # fmt: skip
            # Not a redirect: the address is in no record and no cookie, only on this page.
            page = render_template("customer_links/made.html", job=job, link=link, address=address)
            response = make_response(page)
            response.headers["Cache-Control"] = "no-store"
            response.content_location = url_for("jobs.job", number=number, _anchor="links")
            return response
    return form_page("customer_links/make.html", form, job=job)


@blueprint.get("/jobs/<number>/as-customer")
def preview(number: str) -> ResponseReturnValue:
    """The page as the customer sees it, in the customer's language, without a link."""
    job = jobs.get(db(), number)
    with spoken_for(db(), job.customer):
        return job_page(customer_view.of(db(), job, shows_prices=False), token=None)


@blueprint.post("/links/<int:link_id>/revoke")
def revoke(link_id: int) -> ResponseReturnValue:
    """Shut a link for good."""
    link = customer_links.get(db(), link_id)
    customer_links.revoke(db(), actor(), link)
    flash(gettext("The link is revoked. It no longer works."))
    return redirect(url_for("jobs.job", number=link.job.number, _anchor="links"))
