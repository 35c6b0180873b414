"""Operations: planning a head's routing, doing its steps, signing them off."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Operation, Visit
from shopflow.services.jobs import jobs
from shopflow.services.measuring import limit_checks
from shopflow.services.routing import (
    like_heads,
    operations,
    step_order,
    time_tracking,
    work_plans,
)
from shopflow.services.shop import built_in_kinds
from shopflow.services.shop.built_in_kinds import asked_by
from shopflow.texts import gettext, lazy
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.rights import may
from shopflow.web.routing.like_heads import meant, named
from shopflow.web.routing.operations.forms import (
    AddForm,
    ChangeForm,
    PlaceForm,
    RepeatForm,
    RoutingForm,
    SignOffForm,
    SkipForm,
)
from shopflow.web.routing.time_tracking.words import in_hand
from shopflow.web.undo import flash_undoable

blueprint = Blueprint("operations", __name__)

ASK = lazy("Ask the customer now: send the next revision of the quote.")
ASKED_BY_THE_COUNTER = lazy("The counter asks the customer. Do not cut until it is approved.")


@blueprint.route("/heads/<tag>/steps/new", methods=["GET", "POST"])
def add(tag: str) -> ResponseReturnValue:
    """Add a step at the end of a head's routing."""
    visit = jobs.visit(db(), tag)
    form = _add_form(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            step = _added(visit, form, is_extra=False)
            heads = named(meant(form, visit))
            flash(gettext("Step added{heads}: {kind}.", kind=step.kind.name, heads=heads))
            return _to_routing(visit)
    return form_page("operations/add.html", form, visit=visit)


@blueprint.route("/heads/<tag>/steps/extra", methods=["GET", "POST"])
def find(tag: str) -> ResponseReturnValue:
    """Add extra work, and ask the customer for it."""
    visit = jobs.visit(db(), tag)
    form = _add_form(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            step = _added(visit, form, is_extra=True)
            asks = may("quotes.new")
            planned = gettext(
                "Planned as step {position}{heads}: {kind}.",
                kind=step.kind.name,
                position=step.position,
                heads=named(meant(form, visit)),
            )
            flash(f"{planned} {ASK if asks else ASKED_BY_THE_COUNTER}")
            ask = url_for("quotes.new", number=visit.job.number)
            return redirect(ask) if asks else _to_routing(visit)
    return form_page("operations/found.html", form, visit=visit)


def _add_form(visit: Visit) -> AddForm:
    """The form of a step to add; its price is the office's to say."""
    form = AddForm.offering(visit, built_in_kinds.operation_kinds(db()))
    if not may("jobs.approve"):
        del form.price
    return form


def _added(visit: Visit, form: AddForm, *, is_extra: bool) -> Operation:
    values = form.values
    kind_id = int(values.pop("kind_id"))
    values.pop("all_heads", None)
    heads = meant(form, visit)
    return like_heads.add(db(), actor(), heads, kind_id, values, is_extra=is_extra)[0]


@blueprint.route("/heads/<tag>/steps/work-plan", methods=["GET", "POST"])
def add_routing(tag: str) -> ResponseReturnValue:
    """Add every step of a saved routing."""
    visit = jobs.visit(db(), tag)
    form = RoutingForm.offering(visit, work_plans.list_all(db()))
    if form.validate_on_submit():
        routing = work_plans.get(db(), int(form.routing_id.data))
        with faults_shown(form):
            heads = meant(form, visit)
            like_heads.add_routing(db(), actor(), heads, routing)
            flash(
                gettext(
                    "{routing}: {count} steps were added{heads}.",
                    routing=routing.name,
                    count=len(routing.steps),
                    heads=named(heads),
                )
            )
            return _to_routing(visit)
    return form_page("operations/add_routing.html", form, visit=visit)


@blueprint.route("/steps/<int:operation_id>/change", methods=["GET", "POST"])
def change(operation_id: int) -> ResponseReturnValue:
    """Change a step's instructions, planned minutes, price or notes."""
    row = operations.get(db(), operation_id)
    form = ChangeForm.of(row)
    if not may("jobs.approve"):
        del form.price
    if form.validate_on_submit():
        with faults_shown(form, row):
            _change(row, form)
            return _to_routing(row.job_head)
    return form_page("operations/change.html", form, step=row)


def _change(row: Operation, form: ChangeForm) -> None:
    values = form.values
    if not values.pop("all_heads", False):
        operations.change(db(), actor(), row, values)
        flash(gettext("Step saved: {kind}.", kind=row.kind.name))
        return
    likes = like_heads.change(db(), actor(), row, values)
    heads = named([row.job_head, *(step.job_head for step in likes)])
    flash(gettext("Step saved{heads}: {kind}.", kind=row.kind.name, heads=heads))


@blueprint.post("/steps/<int:operation_id>/<any(earlier,later):way>")
def move(operation_id: int, way: str) -> ResponseReturnValue:
    """Swap a step with its neighbour."""
    row = operations.get(db(), operation_id)
    step_order.move(db(), actor(), row, up=way == "earlier")
    return _to_routing(row.job_head)


@blueprint.route("/steps/<int:operation_id>/place", methods=["GET", "POST"])
def move_to(operation_id: int) -> ResponseReturnValue:
    """Move a step to any position among those still open."""
    row = operations.get(db(), operation_id)
    form = PlaceForm.of(row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            step_order.move_to(db(), actor(), row, int(form.number.data))
            flash(
                gettext(
                    "Now step {position}: {kind}.", kind=row.kind.name, position=form.number.data
                )
            )
            return _to_routing(row.job_head)
    return form_page("operations/place.html", form, step=row)


@blueprint.route("/steps/<int:operation_id>/repeat", methods=["GET", "POST"])
def repeat(operation_id: int) -> ResponseReturnValue:
    """Plan a step once more, right after it, saying why."""
    row = operations.get(db(), operation_id)
    form = RepeatForm()
    if form.validate_on_submit():
        with faults_shown(form):
            step_order.repeat(db(), actor(), row, form.reason.data)
            flash(gettext("Will be repeated at no charge: {kind}.", kind=row.kind.name))
            return _to_routing(row.job_head)
    return form_page("operations/repeat.html", form, step=row)


@blueprint.post("/steps/<int:operation_id>/start")
def start(operation_id: int) -> ResponseReturnValue:
    """Take a step in hand."""
    row = operations.get(db(), operation_id)
    before = time_tracking.of_person(db(), actor())
    operations.start(db(), actor(), row)
    flash(in_hand(row, before))
    return _to_page(row)


@blueprint.route("/steps/<int:operation_id>/sign-off", methods=["GET", "POST"])
def sign_off(operation_id: int) -> ResponseReturnValue:
    """Sign a step off as done."""
    row = operations.get(db(), operation_id)
    kinds = asked_by(db(), [row])
    form = SignOffForm.of(row, actor().at, kinds)
    if form.validate_on_submit():
        with faults_shown(form, row):
            operations.sign_off(db(), actor(), row, form.values)
            flash_undoable(
                gettext("Signed off: {kind}.", kind=row.kind.name),
                "operations.reopen",
                operation_id=row.id,
            )
            return _to_page(row)
    requested = limit_checks.asked_for(row, kinds)
    return form_page("operations/sign_off.html", form, step=row, asked=requested)


@blueprint.route("/steps/<int:operation_id>/skip", methods=["GET", "POST"])
def skip(operation_id: int) -> ResponseReturnValue:
    """Leave a step out, saying why."""
    row = operations.get(db(), operation_id)
    form = SkipForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            operations.skip(db(), actor(), row, form.skip_reason.data)
            flash_undoable(
                gettext("Skipped: {kind}.", kind=row.kind.name),
                "operations.reopen",
                operation_id=row.id,
            )
            return _to_routing(row.job_head)
    return form_page("operations/skip.html", form, step=row)


@blueprint.post("/steps/<int:operation_id>/reopen")
def reopen(operation_id: int) -> ResponseReturnValue:
    """Take a step up again that was done or left out."""
    row = operations.get(db(), operation_id)
    operations.reopen(db(), actor(), row)
    flash(gettext("Reopened: {kind}.", kind=row.kind.name))
    return _to_routing(row.job_head)


def _to_page(row: Operation) -> ResponseReturnValue:
    return redirect(url_for("jobs.visit", tag=row.job_head.tag))


def _to_routing(visit: Visit) -> ResponseReturnValue:
    return redirect(url_for("jobs.visit", tag=visit.tag, _anchor="routing"))
