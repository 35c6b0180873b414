"""Engine types: finding one, its page with every past job of it, adding and changing."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services import engines, lookup
from shopflow.web.auth import actor
from shopflow.web.db import db, edited_from
from shopflow.web.engines.forms import EngineTypeForm
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("engines", __name__, url_prefix="/engines")


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every engine type, or those meant by what is typed, best first."""
    text = request.args.get("q", "").strip()
    found = engines.look_up(db(), text) if text else engines.everyone(db())
    return render_template("engines/index.html", engine_types=found, text=text)


@blueprint.get("/<int:engine_type_id>")
def engine(engine_type_id: int) -> ResponseReturnValue:
    """One engine type, and every past job of it."""
    row = engines.get(db(), engine_type_id)
    past = lookup.of_engine_types(db(), [row])
    return render_template("engines/engine.html", engine_type=row, past_jobs=past)


@blueprint.route("/new", methods=["GET", "POST"])
def create() -> ResponseReturnValue:
    """Add an engine type."""
    form = EngineTypeForm()
    if form.validate_on_submit():
        with faults_shown(form):
            made = engines.create(db(), actor(), form.values)
            flash(f"{made.title} is on file.")
            return redirect(url_for("engines.engine", engine_type_id=made.id))
    return form_page("engines/form.html", form, engine_type=None)


@blueprint.route("/<int:engine_type_id>/change", methods=["GET", "POST"])
def change(engine_type_id: int) -> ResponseReturnValue:
    """Change an engine type."""
    row = engines.get(db(), engine_type_id)
    form = EngineTypeForm.over(row)
    if form.validate_on_submit():
        edited_from(row, form.version.data)
        with faults_shown(form, row):
            engines.change(db(), actor(), row, form.values)
            flash(f"{row.title} is saved.")
            return redirect(url_for("engines.engine", engine_type_id=row.id))
    return form_page("engines/form.html", form, engine_type=row)
