"""Saved routings: the list, making one, changing one by replacing its steps."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import Routing
from shopflow.services.routing import work_plans
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.work_plans.forms import RoutingForm, StartersForm, reshaped

blueprint = Blueprint("work_plans", __name__, url_prefix="/work-plans")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every saved routing with its steps."""
    return render_template(
        "work_plans/index.html",
        routings=work_plans.list_all(db()),
        starters=work_plans.starters_left(db()),
    )


@blueprint.route("/starters", methods=["GET", "POST"])
def starters() -> ResponseReturnValue:
    """Templates to start with, of which the shop adds those it wants."""
    left = work_plans.starters_left(db())
    form = StartersForm.offering(left)
    if form.validate_on_submit():
        with faults_shown(form):
            rows = work_plans.add_starters(db(), actor(), form.keys.data)
            flash(gettext("Added: {names}.", names=", ".join(row.name for row in rows)))
            return redirect(url_for("work_plans.index"))
    names = {kind.code: kind.name for kind in built_in_kinds.operation_kinds(db())}
    return form_page("work_plans/starters.html", form, starters=left, names=names)


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Save a routing to use again."""
    form = _form(None)
    if form.saving and form.validate():
        with faults_shown(form):
            work_plans.save(
                db(), actor(), form.name.data, form.notes.data, form.steps_given,
                form.parts_given, form.package,
            )  # fmt: skip
            flash(gettext("{data} is saved.", data=form.name.data))
            return redirect(url_for("work_plans.index"))
    return form_page("work_plans/form.html", form, routing=None)


@blueprint.route("/<int:routing_id>/change", methods=["GET", "POST"])
def change(routing_id: int) -> ResponseReturnValue:
    """Change a routing; heads planned by it keep the steps they have."""
    row = work_plans.get(db(), routing_id)
    form = _form(row)
    if form.saving and form.validate():
        with faults_shown(form, row):
            work_plans.change(
                db(), actor(), row, form.name.data, form.notes.data, form.steps_given,
                form.parts_given, form.package,
            )  # fmt: skip
            flash(gettext("{row} is saved.", row=row.name))
            return redirect(url_for("work_plans.index"))
    return form_page("work_plans/form.html", form, routing=row)


def _form(routing: Routing | None) -> RoutingForm:
    """The form of a routing, as the buttons of its steps left it."""
    form = RoutingForm.over(routing)
    if request.method == "POST":
        form = reshaped(form)
    kinds = built_in_kinds.operation_kinds(db())
    # A routing that has a retired kind may keep it.
    own = [step.kind for step in routing.steps] if routing else []
    form.offer([*kinds, *dict.fromkeys(kind for kind in own if not kind.active)])
    return form
