"""Castings: their status changed, spares listed, added, offered for a job and used on it."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import RuleError
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.registry import casting_status, engine_types, heads
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.castings.forms import OfferForm, SpareForm, StatusForm

blueprint = Blueprint("castings", __name__)


@blueprint.route("/heads/<int:head_id>/status", methods=["GET", "POST"])
def status(head_id: int) -> ResponseReturnValue:
    """Change the status of a casting: scrap it, make it a spare, put it back in use."""
    row = heads.get(db(), head_id)
    form = StatusForm.of(row.status, request.args.get("to", "").replace("-", " "))
    if form.validate_on_submit():
        with faults_shown(form):
            reason = form.reason.data or ""
            casting_status.set_status(db(), actor(), row, form.status.data, reason)
            flash(gettext("The casting is {status} now.", status=row.status))
            return redirect(url_for("heads.head", head_id=row.id))
    return form_page("castings/status.html", form, head=row)


@blueprint.get("/spare-castings")
def spares() -> ResponseReturnValue:
    """The shop's spare castings."""
    return render_template("castings/spares.html", spares=casting_status.spares(db()))


@blueprint.route("/spare-castings/add", methods=["GET", "POST"])
def add_spare() -> ResponseReturnValue:
    """Record a spare casting of the shop."""
    form = SpareForm.offering(engine_types.list_all(db()))
    if form.validate_on_submit():
        values = form.values
        with faults_shown(form):
            engine_type = engine_types.get(db(), int(values.pop("engine_type_id")))
            source = values.pop("source")
            row = casting_status.add_spare(db(), actor(), engine_type, values, source)
            flash(gettext("The spare casting is saved."))
            return redirect(url_for("heads.head", head_id=row.id))
    return form_page("castings/add.html", form)


@blueprint.route("/heads/<int:head_id>/offer", methods=["GET", "POST"])
def offer(head_id: int) -> ResponseReturnValue:
    """Offer a spare for an open job with a head of its engine type."""
    row = heads.get(db(), head_id)
    form = OfferForm.offering(casting_status.jobs_for(db(), row))
    if form.validate_on_submit():
        with faults_shown(form):
            job = jobs.get(db(), form.job.data)
            casting_status.offer(db(), actor(), row, job)
            flash(gettext("Offered for job {job}. Ask the customer.", job=job.number))
            return redirect(url_for("heads.head", head_id=row.id))
    return form_page("castings/offer.html", form, head=row)


@blueprint.post("/heads/<int:head_id>/offer/withdraw")
def withdraw_offer(head_id: int) -> ResponseReturnValue:
    """Withdraw the offer of a spare."""
    row = heads.get(db(), head_id)
    casting_status.withdraw_offer(db(), actor(), row)
    flash(gettext("The offer is withdrawn."))
    return redirect(url_for("heads.head", head_id=row.id))


@blueprint.post("/heads/<int:head_id>/offer/use")
def use_spare(head_id: int) -> ResponseReturnValue:
    """Take the spare in as a head on the job it is offered for."""
    row = heads.get(db(), head_id)
    job = row.offered_job
    if job is None:
        raise RuleError(gettext("this casting is not offered for a job"))
    visit = booking.add_head(db(), actor(), job, row.engine_type, {"head_id": row.id})
    flash(gettext("The spare is on job {job} as {tag}.", job=job.number, tag=visit.tag))
    return redirect(url_for("jobs.visit", tag=visit.tag))
