"""Limits of pressure, vacuum and leak tests by engine type: set, and removed."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.measuring import integrity_limits
from shopflow.services.registry import engine_types
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.measuring.integrity_limits.forms import IntegrityLimitForm

blueprint = Blueprint("integrity_limits", __name__)


@blueprint.route("/engines/<int:engine_type_id>/leak-limits", methods=["GET", "POST"])
def of_engine(engine_type_id: int) -> ResponseReturnValue:
    """An engine type's limits of tests, and setting one."""
    row = engine_types.get(db(), engine_type_id)
    form = IntegrityLimitForm.offering()
    if form.validate_on_submit():
        values = form.values
        with faults_shown(form):
            kind, side = values.pop("kind"), values.pop("side")
            limit = integrity_limits.set_(db(), actor(), row, kind, side, values)
            flash(gettext("The limit of the {kind} is saved.", kind=limit.kind))
            return redirect(url_for("integrity_limits.of_engine", engine_type_id=row.id))
    rows = integrity_limits.of_engine_type(db(), row)
    return form_page("integrity_limits/of_engine.html", form, engine_type=row, limits=rows)


@blueprint.post("/leak-limits/<int:leak_limit_id>/take-out")
def take_out(leak_limit_id: int) -> ResponseReturnValue:
    """Hold tests against a limit no more."""
    row = integrity_limits.get(db(), leak_limit_id)
    engine_type_id, kind = row.engine_type_id, row.kind.value
    integrity_limits.take_out(db(), actor(), row)
    flash(gettext("The limit of the {kind} was removed.", kind=kind))
    return redirect(url_for("integrity_limits.of_engine", engine_type_id=engine_type_id))
