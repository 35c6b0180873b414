"""Bringing records in: the file, what it would do row by row, and the yes to it."""

from __future__ import annotations

import time
from typing import Any

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.services.imports import kinds
from shopflow.services.imports.kinds import Kind
from shopflow.services.imports.planning import CHANGED, Plan
from shopflow.services.open_data import reception
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db, only_reading
from shopflow.web.folder import KEPT_FOR, imports
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.imports.forms import (
    ConfirmForm,
    OpenDataForm,
    UploadForm,
    settings_in_address,
)
from shopflow.web.spreadsheet import csv_answer

blueprint = Blueprint("imports", __name__, url_prefix="/import")

A_PAGE = 200
MOST_FAULTS = 500
"""Rows and faults shown on a page; all faults can be had as a file."""


@blueprint.get("")
def index() -> ResponseReturnValue:
    """List the kinds of file that can be imported."""
    return render_template("imports/index.html", kinds=kinds.KINDS.values())


@blueprint.route("/open-data", methods=["GET", "POST"])
def open_data() -> ResponseReturnValue:
    """Import a file of open data: all of it, or nothing."""
    form = OpenDataForm()
    if form.validate_on_submit() and (content := form.content):
        with faults_shown(form):
            imported = reception.bring_in(db(), actor(), content)
            flash(gettext("Imported: {counted}.", counted=imported))
            return redirect(url_for("imports.open_data"))
    return form_page("imports/open_data.html", form)


@blueprint.route("/<code>", methods=["GET", "POST"])
def upload(code: str) -> ResponseReturnValue:
    """Upload a file and preview its effect; no record changes."""
    kind = kinds.get(code)
    form = UploadForm()
    if form.validate_on_submit() and (content := form.content):
        waiting = imports()
        waiting.sweep(time.time() - KEPT_FOR)
        name = waiting.put(content)
        query: dict[str, Any] = form.as_query
        return redirect(url_for("imports.preview", code=code, name=name, **query))
    return form_page("imports/upload.html", form, kind=kind)


@blueprint.get("/<code>/template.csv")
def template(code: str) -> Response:
    """A file with the headings and an example, to be filled in."""
    kind = kinds.get(code)
    rows = [[example.get(name, "") for name in kind.headings] for example in kind.examples]
    return csv_answer(f"{code}-template", kind.headings, rows)


@blueprint.get("/<code>/<name>")
def preview(code: str, name: str) -> ResponseReturnValue:
    """Preview the effect of a file, row by row, with every error in it."""
    kind = kinds.get(code)
    plan = _plan(kind, name)
    return _preview_page(kind, name, plan, ConfirmForm(formdata=None, mark=plan.mark))


@blueprint.get("/<code>/<name>/faults.csv")
def faults(code: str, name: str) -> Response:
    """Every error of a file, by row and column."""
    errors = _plan(kinds.get(code), name).faults
    rows = [(fault.row or None, fault.column, fault.message) for fault in errors]
    return csv_answer(f"{code}-faults", ["row", "column", "error"], rows)


@blueprint.post("/<code>/<name>")
def confirm(code: str, name: str) -> ResponseReturnValue:
    """Write all that was shown, or nothing."""
    kind, form = kinds.get(code), ConfirmForm()
    with only_reading():
        plan = _plan(kind, name)
    if form.validate_on_submit() and not plan.faults and form.mark.data == plan.mark:
        with faults_shown(form):
            plan.carry_out(db(), actor())
            flash(gettext("Imported: {counted}.", counted=plan.counted))
            imports().remove(name)
            return redirect(url_for("imports.index"))
        plan = _plan(kind, name)
    elif form.mark.data != plan.mark:
        form.form_errors.append(CHANGED)
    form.mark.data = plan.mark
    return _preview_page(kind, name, plan, form)


def _plan(kind: Kind, name: str) -> Plan:
    writing, air = settings_in_address()
    return kinds.plan(db(), kind, imports().get(name), writing, air)


def _preview_page(kind: Kind, name: str, plan: Plan, form: ConfirmForm) -> ResponseReturnValue:
    last = max(0, len(plan.actions) - 1) // A_PAGE
    page = min(max(request.args.get("page", 0, type=int), 0), last)
    return form_page(
        "imports/preview.html",
        form,
        kind=kind,
        name=name,
        plan=plan,
        parameters={key: value for key, value in request.args.items() if key != "page"},
        actions=plan.actions[page * A_PAGE : (page + 1) * A_PAGE],
        page=page,
        last=last,
        most_faults=MOST_FAULTS,
    )
