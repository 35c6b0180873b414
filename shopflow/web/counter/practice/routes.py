"""The practice job: begun and discarded."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models.job import PRACTICE_NUMBER
from shopflow.services.counter import practice
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import Form, faults_shown, form_page

blueprint = Blueprint("practice", __name__, url_prefix="/practice-job")


@blueprint.post("")
def begin() -> ResponseReturnValue:
    """Book the practice job in, or lead to the one there is."""
    job = practice.find(db()) or practice.begin(db(), actor())
    return redirect(url_for("jobs.job", number=job.number))


@blueprint.route("/discard", methods=["GET", "POST"])
def discard() -> ResponseReturnValue:
    """Ask whether to discard the practice job, and delete it whole."""
    job = practice.find(db())
    if job is None:
        return render_template("practice/none.html"), 404
    form = Form()
    if form.validate_on_submit():
        with faults_shown(form):
            practice.discard(db(), actor(), job)
            flash(gettext("The practice job is discarded. Nothing of it is left."))
            return redirect(url_for("floor.index"))
    return form_page("practice/discard.html", form, job=jobs.get(db(), PRACTICE_NUMBER))
