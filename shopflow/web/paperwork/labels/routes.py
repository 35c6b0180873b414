"""Labels for the heads of a job."""

from __future__ import annotations

from flask import Blueprint, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.jobs import jobs
from shopflow.services.paperwork import labels
from shopflow.services.shop.house_style import the_style
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.paperwork.labels.forms import TagsForm

blueprint = Blueprint("labels", __name__)


@blueprint.route("/jobs/<number>/labels", methods=["GET", "POST"])
def choose(number: str) -> ResponseReturnValue:
    """Choose what to print a job's labels on."""
    job = jobs.get(db(), number)
    form = TagsForm(data={"label": the_style(db()).label_size, "start": 1, "copies": 1})
    if form.validate_on_submit():
        with faults_shown(form):
            labels.sheet(db(), job.heads, **form.printing)
            return redirect(url_for("papers.tags", number=number, **form.printing))
    return form_page("labels/choose.html", form, job=job)
