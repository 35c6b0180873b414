"""Flow certificates: choosing what one states, issuing it, correcting it by a new revision."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Certificate, JobHead
from shopflow.services import certificates, jobs
from shopflow.web.auth import actor
from shopflow.web.certificates.forms import CertificateForm, CorrectionForm
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("certificates", __name__)


@blueprint.route("/heads/<tag>/certify", methods=["GET", "POST"])
def new(tag: str) -> ResponseReturnValue:
    """Issue a certificate of a head's sessions."""
    stay = jobs.visit(db(), tag)
    form = CertificateForm.of(stay)
    if form.validate_on_submit():
        with faults_shown(form):
            made = certificates.issue(db(), actor(), form.chosen(stay))
            flash(f"Certificate {made.title} is issued. It cannot be changed any more.")
            return redirect(_page(made.number, made.revision))
    return form_page("certificates/new.html", form, stay=stay, replaces=None)


@blueprint.get("/certificates/<number>/<int:revision>")
def certificate(number: str, revision: int) -> ResponseReturnValue:
    """One issued certificate."""
    found = certificates.get(db(), number, revision)
    newest = certificates.newest(db(), found)
    return render_template(
        "certificates/certificate.html", certificate=found, stay=_stay(found), newest=newest
    )


@blueprint.route("/certificates/<number>/<int:revision>/correct", methods=["GET", "POST"])
def correct(number: str, revision: int) -> ResponseReturnValue:
    """Issue a new revision that replaces a certificate."""
    found = certificates.get(db(), number, revision)
    stay = _stay(found)
    form = CorrectionForm.of(stay)
    if form.validate_on_submit():
        with faults_shown(form):
            made = certificates.issue(
                db(), actor(), form.chosen(stay), replaces=found, reason=form.reason.data or ""
            )
            flash(f"Certificate {made.title} is issued and replaces the one before.")
            return redirect(_page(made.number, made.revision))
    return form_page("certificates/new.html", form, stay=stay, replaces=found)


def _stay(found: Certificate) -> JobHead:
    return found.sessions[0].session.job_head


def _page(number: str, revision: int) -> str:
    return url_for("certificates.certificate", number=number, revision=revision)
