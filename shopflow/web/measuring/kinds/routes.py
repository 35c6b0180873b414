"""Kinds of measurement: listed, added, changed, ordered, archived and restored."""

from __future__ import annotations

from flask import Blueprint, abort, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.kinds.forms import PLACE_NAMES, KindForm

blueprint = Blueprint("measurement_kinds", __name__, url_prefix="/measurement-kinds")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every kind of measurement, in the shop's order."""
    return render_template(
        "measurement_kinds/index.html",
        kinds=kinds.list_all(db()),
        places=PLACE_NAMES,
        is_built_in=kinds.is_built_in,
        is_calculated=kinds.is_calculated,
    )


@blueprint.route("/new", methods=["GET", "POST"])
def add() -> ResponseReturnValue:
    """Add a kind of the shop's own."""
    form = KindForm.over(None)
    if form.validate_on_submit():
        with faults_shown(form):
            row = kinds.add(db(), actor(), form.values)
            flash(gettext("{row} was added.", row=row.name))
            return _to_list(row.id)
    return form_page("measurement_kinds/form.html", form, kind=None)


@blueprint.route("/<int:kind_id>/change", methods=["GET", "POST"])
def change(kind_id: int) -> ResponseReturnValue:
    """Change a kind; measurements on record keep what they have."""
    row = kinds.get(db(), kind_id)
    form = KindForm.over(row, fixed=kinds.is_fixed(db(), row))
    if form.validate_on_submit():
        with faults_shown(form, row):
            kinds.change(db(), actor(), row, form.values)
            flash(gettext("{row} is saved.", row=row.name))
            return _to_list(row.id)
    return form_page("measurement_kinds/form.html", form, kind=row)


@blueprint.post("/<int:kind_id>/<way>")
def offer(kind_id: int, way: str) -> ResponseReturnValue:
    """Archive or restore a kind, or move it up or down."""
    row = kinds.get(db(), kind_id)
    if way == "archive":
        kinds.archive(db(), actor(), row)
        flash(gettext("{row} is archived. Its measurements stay on record.", row=row.name))
    elif way == "restore":
        kinds.restore(db(), actor(), row)
        flash(gettext("{row} is restored.", row=row.name))
    elif way in ("up", "down") and row.active:
        kinds.move(db(), actor(), row, earlier=way == "up")
    else:
        abort(404)
    return _to_list(row.id)


def _to_list(kind_id: int) -> ResponseReturnValue:
    return redirect(url_for("measurement_kinds.index", _anchor=f"kind-{kind_id}"))
