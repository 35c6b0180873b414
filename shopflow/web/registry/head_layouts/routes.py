"""The layout of an engine type's heads, and its usual values: set and removed."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import kinds, usual_values
from shopflow.services.registry import engine_types, head_layouts
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.head_layouts.forms import LayoutForm, UsualForm

blueprint = Blueprint("head_layouts", __name__)


@blueprint.route("/engines/<int:engine_type_id>/layout", methods=["GET", "POST"])
def layout(engine_type_id: int) -> ResponseReturnValue:
    """Show and save the layout of an engine type's heads."""
    row = engine_types.get(db(), engine_type_id)
    form = LayoutForm.over(row)
    if form.validate_on_submit():
        with faults_shown(form):
            placed = head_layouts.set_layout(db(), actor(), row, form.values)
            flash(gettext("The head layout of {row} is saved.", row=row.title))
            if placed:
                flash(gettext("{placed} earlier measurements now name their valve.", placed=placed))
            return redirect(_back(row.id))
    return form_page("head_layouts/layout.html", form, engine_type=row, back=_back(row.id))


@blueprint.route("/engines/<int:engine_type_id>/usual-values", methods=["GET", "POST"])
def usual(engine_type_id: int) -> ResponseReturnValue:
    """An engine type's usual values, and setting one."""
    row = engine_types.get(db(), engine_type_id)
    form = UsualForm.offering(built_in_kinds.measurement_kinds(db()), row)
    if form.validate_on_submit():
        values = form.values
        kind = kinds.get(db(), int(values.pop("kind_id")))
        with faults_shown(form):
            usual_values.set_(db(), actor(), row, kind, values)
            flash(gettext("{kind} is saved as usual.", kind=kind.name))
            return redirect(url_for("head_layouts.usual", engine_type_id=row.id))
    rows = usual_values.of_engine_type(db(), row)
    return form_page("head_layouts/usual.html", form, engine_type=row, usual=rows)


@blueprint.post("/usual-values/<int:usual_id>/remove")
def remove_usual(usual_id: int) -> ResponseReturnValue:
    """Remove a usual value."""
    row = usual_values.get(db(), usual_id)
    engine_type_id, name = row.engine_type_id, row.kind.name
    usual_values.remove(db(), actor(), row)
    flash(gettext("The usual value of {name} was removed.", name=name))
    return redirect(url_for("head_layouts.usual", engine_type_id=engine_type_id))


def _back(engine_type_id: int) -> str:
    """The page to go on to: the head's sheet that asked for the layout, else the engine type."""
    tag = request.args.get("sheet", "")
    if tag:
        return url_for("sheets.sheet", tag=tag)
    return url_for("engine_types.engine", engine_type_id=engine_type_id)
