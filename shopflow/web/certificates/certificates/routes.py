"""Issued flow certificates: looking at one, correcting it by a new revision, withdrawing it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Certificate, Visit
from shopflow.services.certificates import drafts, issue
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.certificates.certificates.forms import WithdrawForm
from shopflow.web.certificates.drafts.forms import CorrectionForm, DraftForm
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
            draft = drafts.write(db(), actor(), visit, form.chosen(visit), form.texts)
            return redirect(url_for("drafts.draft", draft_id=draft.id))
    return form_page("certificates/new.html", form, visit=visit, replaces=None)


@blueprint.get("/certificates/<number>/<int:revision>")
def certificate(number: str, revision: int) -> ResponseReturnValue:
    """One issued certificate."""
    row = issue.get(db(), number, revision)
    newest = issue.newest(db(), row)
    return render_template(
        "certificates/certificate.html", certificate=row, visit=_visit(row), newest=newest
    )


@blueprint.route("/certificates/<number>/<int:revision>/correct", methods=["GET", "POST"])
def correct(number: str, revision: int) -> ResponseReturnValue:
    """Draft a new revision that replaces a certificate."""
    row = issue.get(db(), number, revision)
    visit = _visit(row)
    form = CorrectionForm.of(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            draft = drafts.write(db(), actor(), visit, form.chosen(visit), form.texts, row)
            return redirect(url_for("drafts.draft", draft_id=draft.id))
    return form_page("certificates/new.html", form, visit=visit, replaces=row)


@blueprint.route("/certificates/<number>/<int:revision>/withdraw", methods=["GET", "POST"])
def withdraw(number: str, revision: int) -> ResponseReturnValue:
    """Withdraw a certificate, so that nobody relies on it any more."""
    row = issue.get(db(), number, revision)
    form = WithdrawForm()
    if form.validate_on_submit():
        with faults_shown(form):
            issue.withdraw(db(), actor(), row, form.reason.data or "")
            flash(gettext("Certificate {row} is withdrawn.", row=row.title))
            return redirect(url_for("certificates.certificate", number=number, revision=revision))
    return form_page("certificates/withdraw.html", form, certificate=row)


def _visit(certificate: Certificate) -> Visit:
    return certificate.sessions[0].session.job_head
