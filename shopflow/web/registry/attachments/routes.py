"""Photos and documents: adding them, showing them, taking them off."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.models import JobFile
from shopflow.services.jobs import jobs
from shopflow.services.registry import attachments
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.db import db, no_transaction
from shopflow.web.folder import store
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.registry.attachments.forms import AddFilesForm, FileForm
from shopflow.web.registry.attachments.serving import as_it_came, full, small

blueprint = Blueprint("attachments", __name__)


@blueprint.route("/jobs/<number>/files/add", methods=["GET", "POST"])
def add(number: str) -> ResponseReturnValue:
    """Keep photos and documents with a job, or with a head on it."""
    job = jobs.get(db(), number)
    form = AddFilesForm.on(job, request.args.get("head", ""))
    if form.validate_on_submit():
        with faults_shown(form):
            visit = form.visit(job)
            with no_transaction():
                batch = attachments.stage_all(store(), form.uploads)
            added = attachments.attach(db(), actor(), job, visit, batch, form.file_values)
            flash(
                gettext(
                    "{file} added.", file=ngettext("{num} file", "{num} files", len(added.stored))
                )
            )
            for words in added.refused:
                flash(gettext("Not saved: {words}.", words=words))
            return redirect(_back(added.stored[0]))
    return form_page("attachments/add.html", form, job=job)


@blueprint.get("/files/<int:file_id>")
def file(file_id: int) -> Response:
    """A photo as it is kept, or a document to save."""
    return full(attachments.get(db(), file_id))


@blueprint.get("/files/<int:file_id>/original")
def original(file_id: int) -> Response:
    """A photo as it came, to save; it may tell where it was taken, so customers never get it."""
    return as_it_came(attachments.get(db(), file_id))


@blueprint.get("/files/<int:file_id>/small")
def thumbnail(file_id: int) -> Response:
    """A photo's small form."""
    return small(attachments.get(db(), file_id))


@blueprint.route("/files/<int:file_id>/change", methods=["GET", "POST"])
def change(file_id: int) -> ResponseReturnValue:
    """Change a file's caption, and whether the customer may see it."""
    row = attachments.get(db(), file_id)
    form = FileForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            attachments.change(db(), actor(), row, form.values)
            flash(gettext("The file is saved."))
            return redirect(_back(row))
    return form_page("attachments/change.html", form, file=row, back=_back(row))


@blueprint.post("/files/<int:file_id>/take-off")
def take_off(file_id: int) -> ResponseReturnValue:
    """Take a file off the job's pages."""
    row = attachments.get(db(), file_id)
    attachments.take_off(db(), actor(), row)
    flash(gettext("'{row}' was removed.", row=row.title))
    return redirect(_back(row))


def _back(row: JobFile) -> str:
    """The page a file stands on."""
    if row.job_head is not None:
        return url_for("jobs.visit", tag=row.job_head.tag, _anchor="files")
    return url_for("jobs.job", number=row.job.number, _anchor="files")
