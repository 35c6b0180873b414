"""Holds on a head: recording, changing and ending them."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.jobs import jobs
from shopflow.services.routing import holds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import today
from shopflow.web.db import db
from shopflow.web.forms import Form, faults_shown, form_page
from shopflow.web.routing.holds.forms import WaitForm

blueprint = Blueprint("holds", __name__)


@blueprint.route("/heads/<tag>/hold", methods=["GET", "POST"])
def begin(tag: str) -> ResponseReturnValue:
    """Put a head on hold, with the reason."""
    visit = jobs.visit(db(), tag)
    form = WaitForm(data={"since": today()})
    if form.validate_on_submit():
        with faults_shown(form):
            wait = holds.begin(db(), actor(), visit, form.values)
            flash(gettext("{visit} is {describe}.", visit=visit.tag, describe=holds.describe(wait)))
            return redirect(url_for("jobs.visit", tag=visit.tag))
    return form_page("holds/wait.html", form, visit=visit, wait=None)


@blueprint.route("/holds/<int:wait_id>", methods=["GET", "POST"])
def change(wait_id: int) -> ResponseReturnValue:
    """Change what is written of a wait, as the day it is expected."""
    wait = holds.get(db(), wait_id)
    form = WaitForm(obj=wait)
    if form.validate_on_submit():
        with faults_shown(form, wait):
            holds.change(db(), actor(), wait, form.values)
            flash(
                gettext(
                    "{job_head} is {describe}.",
                    job_head=wait.job_head.tag,
                    describe=holds.describe(wait),
                )
            )
            return redirect(url_for("jobs.visit", tag=wait.job_head.tag))
    return form_page("holds/wait.html", form, visit=wait.job_head, wait=wait)


@blueprint.post("/holds/<int:wait_id>/end")
def end(wait_id: int) -> ResponseReturnValue:
    """End a hold."""
    wait = holds.get(db(), wait_id)
    form = Form()
    if form.validate_on_submit():
        with faults_shown(form):
            holds.end(db(), actor(), wait)
            flash(
                gettext(
                    "{job_head} no longer waits for {what}.",
                    job_head=wait.job_head.tag,
                    what=wait.what,
                )
            )
            return redirect(url_for("jobs.visit", tag=wait.job_head.tag))
    return form_page("holds/over.html", form, visit=wait.job_head)
