"""Limits of figures by engine type: set, copied, and taken out."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import limits, measurements
from shopflow.services.registry import engine_types
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.limits.forms import CopyForm, LimitForm

blueprint = Blueprint("limits", __name__)


@blueprint.route("/engines/<int:engine_type_id>/limits", methods=["GET", "POST"])
def of_engine(engine_type_id: int) -> ResponseReturnValue:
    """An engine type's limits, and setting one."""
    row = engine_types.get(db(), engine_type_id)
    form = LimitForm.offering(built_in_kinds.measurement_kinds(db()))
    if form.validate_on_submit():
        values = form.values
        kind = measurements.get_kind(db(), int(values.pop("kind_id")))
        with faults_shown(form):
            limits.set_(db(), actor(), row, kind, values.pop("side"), values)
            flash(gettext("{kind} is now checked against these limits.", kind=kind.name))
            return redirect(url_for("limits.of_engine", engine_type_id=row.id))
    rows = limits.of_engine_type(db(), row)
    return form_page("limits/of_engine.html", form, engine_type=row, limits=rows)


@blueprint.route("/engines/<int:engine_type_id>/limits/copy", methods=["GET", "POST"])
def copy(engine_type_id: int) -> ResponseReturnValue:
    """Copy the limits of another engine type."""
    row = engine_types.get(db(), engine_type_id)
    sources = limits.with_limits(db(), row)
    form = CopyForm.offering(sources)
    if form.validate_on_submit():
        source = engine_types.get(db(), int(form.source_id.data))
        with faults_shown(form):
            copied = limits.copy(db(), actor(), row, source, replace=form.replace.data)
            flash(
                ngettext(
                    "{num} limit copied from {source}.",
                    "{num} limits copied from {source}.",
                    len(copied),
                    source=source.title,
                )
                if copied
                else gettext(
                    "Nothing copied: every limit of {source} is set here already.",
                    source=source.title,
                )
            )
            return redirect(url_for("limits.of_engine", engine_type_id=row.id))
    return form_page("limits/copy.html", form, engine_type=row, sources=sources)


@blueprint.post("/limits/<int:limit_id>/take-out")
def take_out(limit_id: int) -> ResponseReturnValue:
    """Hold figures against a limit no more."""
    row = limits.get(db(), limit_id)
    engine_type_id, name = row.engine_type_id, row.kind.name
    limits.take_out(db(), actor(), row)
    flash(gettext("The limit of {name} was removed.", name=name))
    return redirect(url_for("limits.of_engine", engine_type_id=engine_type_id))
