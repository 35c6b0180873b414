"""Collection: the checklist of a ready job, and what left the shop."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.documents import cautions
from shopflow.services.billing import balances
from shopflow.services.counter import collections
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import today
from shopflow.web.counter.collections.forms import CollectionForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("collections", __name__)


@blueprint.route("/jobs/<number>/collection", methods=["GET", "POST"])
def hand_over(number: str) -> ResponseReturnValue:
    """Tick a ready job's parts and papers off, and hand it over; or show how it left."""
    job = jobs.get(db(), number)
    form = CollectionForm.of(job, today())
    if form.validate_on_submit():
        with faults_shown(form):
            parts = form.parts_back(job)
            row = collections.hand_over(
                db(), actor(), job, form.collection_values, parts, form.papers.data
            )
            flash(gettext("Job {job} is {how}.", job=job.number, how=row.how))
            return redirect(url_for("collections.hand_over", number=number))
    return form_page(
        "collections/collection.html",
        form,
        job=job,
        row=job.collection,
        balance=balances.of_job(db(), job),
        packing=cautions.PACKING,
    )
