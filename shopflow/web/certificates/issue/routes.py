"""Issued flow certificates: looking at one, correcting it by a new revision, withdrawing it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Certificate, Visit
from shopflow.services.certificates import drafts, issue
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.certificates.issue.forms import CorrectionForm, DraftForm, WithdrawForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("certificates", __name__)


@blueprint.route("/heads/<tag>/certify", methods=["GET", "POST"])
def new(tag: str) -> ResponseReturnValue:
    """Draft a certificate of a head's sessions."""
    visit = jobs.visit(db(), tag)
    form = DraftForm.of(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            made = drafts.write(db(), actor(), visit, form.chosen(visit), form.texts)
            return redirect(url_for("drafts.draft", draft_id=made.id))
    return form_page("certificates/new.html", form, visit=visit, replaces=None)


@blueprint.get("/certificates/<number>/<int:revision>")
def certificate(number: str, revision: int) -> ResponseReturnValue:
    """One issued certificate."""
    found = issue.get(db(), number, revision)
    newest = issue.newest(db(), found)
    return render_template(
        "certificates/certificate.html", certificate=found, visit=_stay(found), newest=newest
    )


@blueprint.route("/certificates/<number>/<int:revision>/correct", methods=["GET", "POST"])
def correct(number: str, revision: int) -> ResponseReturnValue:
    """Draft a new revision that replaces a certificate."""
    found = issue.get(db(), number, revision)
    visit = _stay(found)
    form = CorrectionForm.of(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            made = drafts.write(db(), actor(), visit, form.chosen(visit), form.texts, found)
            return redirect(url_for("drafts.draft", draft_id=made.id))
    return form_page("certificates/new.html", form, visit=visit, replaces=found)


@blueprint.route("/certificates/<number>/<int:revision>/withdraw", methods=["GET", "POST"])
def withdraw(number: str, revision: int) -> ResponseReturnValue:
    """Say that a certificate must not be relied on any more."""
    found = issue.get(db(), number, revision)
    form = WithdrawForm()
    if form.validate_on_submit():
        with faults_shown(form):
            issue.withdraw(db(), actor(), found, form.reason.data or "")
            flash(gettext("Certificate {found} is withdrawn.", found=found.title))
            return redirect(url_for("certificates.certificate", number=number, revision=revision))
    return form_page("certificates/withdraw.html", form, certificate=found)


def _stay(found: Certificate) -> Visit:
    return found.sessions[0].session.job_head
