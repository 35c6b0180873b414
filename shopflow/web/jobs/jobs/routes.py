"""Jobs: the list, booking in, a job's page, and the page of each head on it."""

from __future__ import annotations

from flask import Blueprint, flash, jsonify, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Job, JobState
from shopflow.services import audit_log
from shopflow.services.analysis import port_gains
from shopflow.services.bench import test_names
from shopflow.services.billing import approvals, balances, quotes
from shopflow.services.certificates import issue
from shopflow.services.counter import booking, inspection_reports
from shopflow.services.forecasting import forecasts
from shopflow.services.jobs import jobs, stations
from shopflow.services.messaging import outbox
from shopflow.services.parts import needs
from shopflow.services.planning import page_queries
from shopflow.services.registry import attachments, casting_status
from shopflow.services.registry.attachments import Batch
from shopflow.services.routing import time_tracking
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.bench_mode import scans
from shopflow.web.bench.swirl_tests import lines as swirl_lines
from shopflow.web.context import current_shop, today
from shopflow.web.db import db, no_transaction
from shopflow.web.folder import counter, store
from shopflow.web.following import following_of
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.history.lines import lines
from shopflow.web.jobs.jobs import gain_map
from shopflow.web.jobs.jobs.booking import STEPS, BookInForm
from shopflow.web.jobs.jobs.booking_starts import (
    form_with_offers,
    form_with_records,
    sent,
    starting,
)
from shopflow.web.jobs.jobs.forms import ApproveForm, CancelForm, ConditionForm, JobForm, MoveForm
from shopflow.web.jobs.jobs.offers import Offer
from shopflow.web.jobs.jobs.routing import routing_of, running_on
from shopflow.web.rights import may
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("jobs", __name__)

A_PAGE = 50
UNSAID = {"caption": "", "shown_to_customer": False}
SHOWN = {"open": True, "closed": False}
FAR = 1_000_000
"""Past this no list goes, and no database's row count either."""


@blueprint.get("/jobs")
def index() -> ResponseReturnValue:
    """Every job, or the open or closed ones, newest first, a page at a time."""
    wanted = request.args.get("show", "")
    skip = min(max(request.args.get("skip", 0, type=int), 0), FAR)
    rows = jobs.recent(db(), A_PAGE + 1, skip=skip, is_open=SHOWN.get(wanted))
    return render_template(
        "jobs/index.html",
        jobs=rows[:A_PAGE],
        wanted=wanted if wanted in SHOWN else "",
        newer=max(skip - A_PAGE, 0) if skip else None,
        older=skip + A_PAGE if len(rows) > A_PAGE else None,
    )


@blueprint.route("/jobs/new", methods=["GET", "POST"])
def book_in() -> ResponseReturnValue:
    """Book heads in: customer, engine type, heads and job, a step at a time."""
    form = _sent() if request.method == "POST" else starting(db(), request.args)
    form.look_on_file(db())
    form.take_step()
    if form.saving and form.validate():
        with faults_shown(form):
            with no_transaction():
                attachments.copy_staged(form.staged, counter(), store())
            job = booking.book_in(db(), actor(), form.booking)
            for visit, photos in form.photos_of(job):
                attachments.attach(db(), actor(), job, visit, Batch(tuple(photos)), UNSAID)
            flash(
                gettext(
                    "Job {job} is booked in: label {s}.",
                    job=job.number,
                    s=", ".join(s.tag for s in job.heads),
                )
            )
            return redirect(url_for(_next_page(), number=job.number))
    if form.saving:
        form.show_faults_step()
    return form_page("jobs/book_in.html", form, steps=STEPS)


def _sent() -> BookInForm:
    with no_transaction():
        return sent(counter())


def _next_page() -> str:
    """Endpoint that the button pressed leads to once the job is booked in."""
    return {"tags": "labels.choose", "quote": "quotes.new"}.get(
        request.form.get("then", ""), "jobs.job"
    )


@blueprint.get("/jobs/new/seen")
def seen_before() -> ResponseReturnValue:
    """Records of a casting while its numbers are typed, as a part of the page."""
    form = form_with_records(db(), request.args)
    return jsonify(html=render_template("jobs/seen_answer.html", part=form.heads[-1].form))


@blueprint.get("/jobs/new/<any(customer,engine):what>")
def offers(what: str) -> ResponseReturnValue:
    """Records that match a text while it is typed, as a part of the page."""
    form = form_with_offers(db(), what, request.args.get("q", ""))
    field = form.customer_id if what == "customer" else form.engine_type_id
    return jsonify(html=render_template("jobs/offers_answer.html", field=field))


@blueprint.get("/jobs/<number>")
def job(number: str) -> ResponseReturnValue:
    """One job: what is wanted, its money, its heads, its papers, its log."""
    row = page_queries.job(db(), number)
    return render_template(
        "jobs/job.html",
        job=row,
        where=jobs.where_it_stands,
        following=following_of(row),
        stations=stations.of_job(row),
        waiting=approvals.waiting(db(), row),
        overnight=time_tracking.left_open(db(), running_on(row), actor().at),
        balance=(balance := balances.of_job(db(), row)),
        extras=[each for each in balance.not_approved if each.is_open],
        move=MoveForm.of(row),
        log=lines(row, audit_log.of_job(db(), row)),
        files=attachments.of_job(db(), row),
        messages=outbox.of_job(db(), row),
        has_findings=inspection_reports.has_findings(db(), row),
        spares=casting_status.spares_for(db(), row) if row.is_open else [],
        **_parts_of(row),
        now=actor().at,
    )


@blueprint.route("/jobs/<number>/change", methods=["GET", "POST"])
def change(number: str) -> ResponseReturnValue:
    """Change what is known of a job."""
    row = jobs.get(db(), number)
    form = JobForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            jobs.change(db(), actor(), row, form.values)
            flash(gettext("Job {row} is saved.", row=row.number))
            return redirect(url_for("jobs.job", number=row.number))
    return form_page("jobs/change.html", form, job=row)


@blueprint.route("/jobs/<number>/approve", methods=["GET", "POST"])
def approve(number: str) -> ResponseReturnValue:
    """Record who approved the work, how, and which lines the customer declined."""
    row = jobs.get(db(), number)
    quote = quotes.awaiting(db(), row)
    offered = Offer.of(db(), row, quote)
    form = ApproveForm.over(row, offered)
    if form.validate_on_submit():
        with faults_shown(form, row):
            quotes.approve_job(
                db(),
                actor(),
                row,
                form.approved_by.data,
                form.how,
                seen=form.quote.data or "",
                declined=form.declined,
            )
            subject = (
                gettext("Quote {quote}", quote=quote.title)
                if quote
                else gettext("Job {row}", row=row.number)
            )
            flash(
                gettext(
                    "{subject} is approved. Work may start{declined_in_words}.",
                    subject=subject,
                    declined_in_words=form.declined_in_words,
                )
            )
            return redirect(url_for("jobs.job", number=row.number))
    form.quote.data = offered.seen
    return form_page(
        "jobs/approve.html", form, job=row, quote=quote, offered=offered, today=today()
    )


@blueprint.route("/jobs/<number>/cancel", methods=["GET", "POST"])
def cancel(number: str) -> ResponseReturnValue:
    """Call a job off, saying why."""
    row = jobs.get(db(), number)
    form = CancelForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            jobs.cancel(db(), actor(), row, form.cancel_reason.data)
            flash(gettext("Job {row} is cancelled.", row=row.number))
            return redirect(url_for("jobs.job", number=row.number))
    return form_page("jobs/cancel.html", form, job=row)


@blueprint.post("/jobs/<number>/move")
def move(number: str) -> ResponseReturnValue:
    """Take a job on to a state that may follow."""
    row = jobs.get(db(), number)
    form = MoveForm.of(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            jobs.move(
                db(),
                actor(),
                row,
                JobState(form.state.data),
                untouched_because=form.untouched_reason,
            )
            _announce(row)
            return redirect(url_for("jobs.job", number=row.number))
    return form_page("jobs/move.html", form, job=row)


def _announce(row: Job) -> None:
    """Say which state a job is in now; what was marked ready can go back to work."""
    message = gettext("Job {row} is {state}.", row=row.number, state=row.state)
    if row.state is JobState.READY and row.closed_at is None:
        db().flush()
        fields = {"state": JobState.IN_WORK.value, "version": str(row.version)}
        flash_undoable(message, "jobs.move", fields, number=row.number)
    else:
        flash(message)


@blueprint.get("/heads/<tag>")
def visit(tag: str) -> ResponseReturnValue:
    """One head's visit: the next thing to do, its routing, figures and flow tests."""
    if scans.opens_bench_mode() and scans.is_scan() and may("bench_mode.ports"):
        return redirect(url_for("bench_mode.ports", tag=tag))
    visit, measured = page_queries.visit(db(), tag)
    return render_template(
        "jobs/visit.html",
        visit=visit,
        job=visit.job,
        where=jobs.where_it_stands(visit),
        following=following_of(visit.job, visit),
        stations=stations.of_job(visit.job),
        **routing_of(visit, actor()),
        forecasts=forecasts.of_visits(db(), [visit])[visit.id],
        certificates=issue.of_stay(db(), visit),
        files=attachments.of_stay(db(), visit),
        gain_map=gain_map.drawn(visit),
        has_ports_to_compare=port_gains.has_ports_to_compare(visit),
        measured=measured,
        session_name=test_names.session_name,
        swirl_lines=swirl_lines.of_visit(db(), visit),
        **_parts_of(visit.job, visit.tag),
    )


def _parts_of(job: Job, tag: str = "") -> dict[str, list[needs.Need]]:
    """The parts that a job or one of its heads needs; nothing where the shop uses none."""
    shop = current_shop()
    if shop is None or not shop.uses_parts:
        return {}
    needed = needs.of_job(db(), job)
    return {"needs": needs.of_head(needed, tag) if tag else needed}


@blueprint.route("/heads/<tag>/condition", methods=["GET", "POST"])
def change_visit(tag: str) -> ResponseReturnValue:
    """Change how a head came in."""
    visit = jobs.visit(db(), tag)
    form = ConditionForm.of(visit)
    if form.validate_on_submit():
        with faults_shown(form, visit):
            jobs.change_visit(db(), actor(), visit, form.values)
            flash(gettext("{visit} is saved.", visit=visit.tag))
            return redirect(url_for("jobs.visit", tag=visit.tag))
    return form_page("jobs/condition.html", form, visit=visit)
