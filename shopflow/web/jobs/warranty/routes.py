"""Warranty returns: deciding who bears one."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.jobs import jobs, warranty
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.jobs.warranty.forms import WarrantyForm

blueprint = Blueprint("warranty", __name__)


@blueprint.route("/jobs/<number>/warranty", methods=["GET", "POST"])
def change(number: str) -> ResponseReturnValue:
    """Change why a job came back, and who bears it."""
    job = jobs.get(db(), number)
    row = warranty.get(job)
    form = WarrantyForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            warranty.change(db(), actor(), row, form.values)
            flash(gettext("The return is saved."))
            return redirect(url_for("jobs.job", number=number))
    return form_page("warranty/change.html", form, job=job, row=row)
