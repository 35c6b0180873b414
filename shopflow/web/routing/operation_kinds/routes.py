"""Kinds of operation: listed, added, changed, retired and brought back."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.routing import operation_kinds
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.routing.operation_kinds.forms import KindForm, PlacesForm

blueprint = Blueprint("operation_kinds", __name__, url_prefix="/step-kinds")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every kind of operation."""
    return render_template(
        "operation_kinds/index.html",
        kinds=operation_kinds.everything(db()),
        figures={kind.code: kind.name for kind in built_in_kinds.measurement_kinds(db())},
        is_built_in=operation_kinds.is_built_in,
    )


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a kind of the shop's own."""
    form = KindForm.over(None, built_in_kinds.measurement_kinds(db()))
    if form.validate_on_submit():
        with faults_shown(form):
            kind = operation_kinds.add(db(), actor(), form.values)
            flash(gettext("Step type added: {kind}.", kind=kind.name))
            return redirect(url_for("operation_kinds.index"))
    return form_page("operation_kinds/form.html", form, kind=None)


@blueprint.route("/<int:kind_id>/change", methods=["GET", "POST"])
def change(kind_id: int) -> ResponseReturnValue:
    """Change a kind; steps planned before keep what they have."""
    row = operation_kinds.get(db(), kind_id)
    form = KindForm.over(row, built_in_kinds.measurement_kinds(db()))
    if form.validate_on_submit():
        with faults_shown(form, row):
            operation_kinds.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.name))
            return redirect(url_for("operation_kinds.index"))
    return form_page("operation_kinds/form.html", form, kind=row)


@blueprint.route("/<int:kind_id>/places", methods=["GET", "POST"])
def places(kind_id: int) -> ResponseReturnValue:
    """Set at how many places of a head a step asks for each measurement."""
    row = operation_kinds.get(db(), kind_id)
    form = PlacesForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form):
            operation_kinds.change(db(), actor(), row, {"asks_where": form.places_asked(row)})
            flash(gettext("{row} is saved.", row=row.name))
            return redirect(url_for("operation_kinds.index"))
    names = {kind.code: kind.name for kind in built_in_kinds.measurement_kinds(db())}
    return form_page("operation_kinds/places.html", form, kind=row, names=names)


@blueprint.post("/<int:kind_id>/<any(retire,bring_back):way>")
def offer(kind_id: int, way: str) -> ResponseReturnValue:
    """Offer a kind no more, or again."""
    row = operation_kinds.get(db(), kind_id)
    if way == "retire":
        operation_kinds.retire(db(), actor(), row)
        flash(gettext("{row} was archived. Planned steps keep this type.", row=row.name))
    else:
        operation_kinds.bring_back(db(), actor(), row)
        flash(gettext("{row} was restored.", row=row.name))
    return redirect(url_for("operation_kinds.index"))
