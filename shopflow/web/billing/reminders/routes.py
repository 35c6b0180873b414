"""Stages of reminders: the list, adding, changing and removing them."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.billing import reminders
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.billing.reminders.forms import StageForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("reminders", __name__, url_prefix="/reminders")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every stage, the first one first."""
    return render_template("reminders/index.html", stages=reminders.stages(db()))


@blueprint.post("/usual")
def add_usual() -> ResponseReturnValue:
    """Add three stages to start with."""
    reminders.add_usual(db(), actor())
    flash(gettext("Reminders added. Change their days and words as you like."))
    return redirect(url_for("reminders.index"))


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a stage."""
    form = StageForm()
    if form.validate_on_submit():
        with faults_shown(form):
            row = reminders.add(db(), actor(), form.values)
            flash(gettext("Reminder added: {subject}.", subject=row.subject))
            return redirect(url_for("reminders.index"))
    return form_page("reminders/form.html", form, stage=None)


@blueprint.route("/<int:stage_id>/change", methods=["GET", "POST"])
def change(stage_id: int) -> ResponseReturnValue:
    """Change a stage."""
    row = reminders.get(db(), stage_id)
    form = StageForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            reminders.change(db(), actor(), row, form.values)
            flash(gettext("Reminder saved: {subject}.", subject=row.subject))
            return redirect(url_for("reminders.index"))
    return form_page("reminders/form.html", form, stage=row)


@blueprint.post("/<int:stage_id>/remove")
def remove(stage_id: int) -> ResponseReturnValue:
    """Remove a stage."""
    row = reminders.get(db(), stage_id)
    subject = row.subject
    reminders.remove(db(), actor(), row)
    flash(gettext("Reminder removed: {subject}.", subject=subject))
    return redirect(url_for("reminders.index"))
