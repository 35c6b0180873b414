"""Releases: the owner lets steps cut metal ahead of the customer's approval."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.billing import approvals
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.releases.forms import ReleaseForm

blueprint = Blueprint("releases", __name__)


@blueprint.route("/jobs/<number>/release", methods=["GET", "POST"])
def give(number: str) -> ResponseReturnValue:
    """Let steps be done before the customer has approved them, saying why."""
    job = jobs.get(db(), number)
    waiting = approvals.waiting(db(), job)
    form = ReleaseForm.offering(waiting)
    if form.validate_on_submit():
        with faults_shown(form):
            chosen = form.chosen(waiting)
            approvals.release(db(), actor(), job, chosen, form.reason.data)
            flash(
                gettext(
                    "Released before approval: {kind}.",
                    kind=", ".join(step.kind.name for step in chosen),
                )
            )
            return redirect(url_for("jobs.job", number=number))
    return form_page("releases/give.html", form, job=job, waiting=waiting)
