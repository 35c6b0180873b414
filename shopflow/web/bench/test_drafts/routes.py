"""Flow tests being taken: discarded once that is confirmed, and restored."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.bench import test_drafts
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import Form

blueprint = Blueprint("test_drafts", __name__)


@blueprint.route("/heads/<tag>/test/discard", methods=["GET", "POST"])
def discard(tag: str) -> ResponseReturnValue:
    """Ask, then discard the test being taken of a head."""
    visit = jobs.visit(db(), tag)
    test = test_drafts.of_head(db(), visit)
    if test is None:
        flash(gettext("No flow test of this head is being taken."))
        return redirect(url_for("jobs.visit", tag=tag))
    form = Form()
    if form.validate_on_submit():
        test_drafts.discard(db(), actor(), visit)
        flash(gettext("The test is discarded. You can restore it here for 30 days."))
        return redirect(url_for("jobs.visit", tag=tag, _anchor="tests"))
    return render_template("test_drafts/discard.html", form=form, visit=visit, test=test)


@blueprint.post("/discarded-tests/<int:test_id>/restore")
def restore(test_id: int) -> ResponseReturnValue:
    """Go on with a discarded test."""
    discarded = test_drafts.get_discarded(db(), test_id)
    tag = discarded.job_head.tag
    test_drafts.restore(db(), actor(), discarded)
    flash(gettext("The test is restored."))
    return redirect(url_for("sessions.new", tag=tag))
