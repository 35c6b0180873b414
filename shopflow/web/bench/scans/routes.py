"""Scans of ports: adding one to a head, and cutting it into sections."""

from __future__ import annotations

from dataclasses import dataclass

from flask import Blueprint, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from shopflow.files.scans import Scan
from shopflow.models import JobFile, Visit
from shopflow.papers.silhouette import caption, silhouette
from shopflow.services.bench import center_lines, scan_plans, scans
from shopflow.services.bench.scan_plans import Plan
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.bench.scans.forms import CutForm, ScanForm
from shopflow.web.context import system
from shopflow.web.db import db, no_transaction
from shopflow.web.drawing import silhouette_drawn
from shopflow.web.folder import store
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("scans", __name__, url_prefix="/heads/<tag>/scans")


@dataclass(frozen=True)
class Preview:
    """Sections as they would be saved, and their silhouette."""

    plan: Plan
    drawing: Markup | None
    caption: str


@blueprint.route("", methods=["GET", "POST"])
def index(tag: str) -> ResponseReturnValue:
    """The scans of a head, and the form to add one."""
    visit = jobs.visit(db(), tag)
    form = ScanForm.new()
    if form.validate_on_submit():
        with faults_shown(form):
            operations.must_be_open(visit)
            upload = form.upload
            with no_transaction():
                staged = scans.stage(store(), upload)
            row = scans.keep(db(), actor(), visit, staged)
            flash(gettext("The scan {name} is kept with this head.", name=row.name))
            return redirect(url_for("scans.cut", tag=tag, file_id=row.id))
    return form_page("scans/index.html", form, visit=visit, scans=scans.of_visit(db(), visit))


@blueprint.route("/<int:file_id>", methods=["GET", "POST"])
def cut(tag: str, file_id: int) -> ResponseReturnValue:
    """Cut a scan into sections: preview them, then save them."""
    visit = jobs.visit(db(), tag)
    row = scans.get(db(), visit, file_id)
    form = CutForm.start()
    scan: Scan | None = None
    preview: Preview | None = None
    with faults_shown(form):
        with no_transaction():
            scan = scans.load(store(), row)
        if form.is_submitted() and _is_ready(form, scan):
            planned = scan_plans.plan(db(), visit, scan, form.cutting, system())
            if form.save.data and form.is_previewed:
                return _save(visit, row, planned)
            preview = _preview(planned)
            form.previewed.data = form.digest
    return form_page(
        "scans/cut.html",
        form,
        visit=visit,
        scan=scan,
        file=row,
        preview=preview,
        is_late=bool(form.save.data and preview),
    )


def _is_ready(form: CutForm, scan: Scan) -> bool:
    """True where sections are to be cut; a line asked for is put into its field instead."""
    typed = form.center_line.data or ""
    if form.propose.data or form.reverse.data:
        form.center_line.data = (
            center_lines.propose(scan, typed) if form.propose.data else center_lines.reverse(typed)
        )
        return False
    return bool(form.validate())


def _save(visit: Visit, row: JobFile, planned: Plan) -> ResponseReturnValue:
    operations.must_be_open(visit)
    step = operations.of_head(visit, request.args.get("operation", ""))
    scan_plans.save(db(), actor(), visit, row, planned, step)
    count = len(planned.rows)
    flash(
        gettext(
            "Saved: {sections} from {name}.",
            sections=ngettext("{num} section", "{num} sections", count),
            name=row.name,
        )
    )
    return redirect(url_for("sections.port", tag=visit.tag, port=planned.port.key))


def _preview(planned: Plan) -> Preview:
    shape = silhouette(planned.along, system())
    drawing = silhouette_drawn(shape, "preview") if shape is not None else None
    return Preview(planned, drawing, caption(planned.along))
