"""Cams of engine types and of jobs: listed, added, changed, archived, uploaded and downloaded."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow import camfile
from shopflow.models import Cam, EngineType
from shopflow.services.engine import cams
from shopflow.services.engine.cams import Owner
from shopflow.services.jobs import jobs
from shopflow.services.registry import engine_types
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw
from shopflow.web.engine.cams.charts import cam_chart
from shopflow.web.engine.cams.forms import CamForm, UploadForm
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("cams", __name__)


@blueprint.get("/engines/<int:engine_type_id>/cams")
@blueprint.get("/jobs/<number>/cams")
def of_owner(engine_type_id: int | None = None, number: str = "") -> ResponseReturnValue:
    """The cams of an engine type or a job, and uploading the file of one."""
    return _listed(_owner(engine_type_id, number), UploadForm())


@blueprint.post("/engines/<int:engine_type_id>/cams/upload")
@blueprint.post("/jobs/<number>/cams/upload")
def upload(engine_type_id: int | None = None, number: str = "") -> ResponseReturnValue:
    """Save the cam of a file."""
    owner, form = _owner(engine_type_id, number), UploadForm()
    if form.validate_on_submit():
        with faults_shown(form):
            with form.faults_at_file():
                row = cams.create(db(), actor(), owner, form.read())
            return _saved(row)
    return _listed(owner, form)


@blueprint.route("/engines/<int:engine_type_id>/cams/new", methods=["GET", "POST"])
@blueprint.route("/jobs/<number>/cams/new", methods=["GET", "POST"])
def create(engine_type_id: int | None = None, number: str = "") -> ResponseReturnValue:
    """Add a cam."""
    owner = _owner(engine_type_id, number)
    form = CamForm.of_owner(owner, system().unit("lift"))
    if _is_sound(form):
        with faults_shown(form):
            return _saved(cams.create(db(), actor(), owner, form.read()))
    return form_page("cams/form.html", form, row=None, more=False, back=list_of(owner))


@blueprint.get("/cams/<int:cam_id>")
def cam(cam_id: int) -> ResponseReturnValue:
    """A cam: its engine, its lobes, and the valve lift drawn over crank angle."""
    row = cams.get(db(), cam_id)
    content = cams.document(row)
    chart = draw(cam_chart(content, system()), "cam")
    return render_template(
        "cams/cam.html", row=row, cam=content, chart=chart, motions=content.motions,
        owner=row.owner, back=list_of(row.owner),
    )  # fmt: skip


@blueprint.route("/cams/<int:cam_id>/change", methods=["GET", "POST"])
def change(cam_id: int) -> ResponseReturnValue:
    """Change a cam."""
    row = cams.get(db(), cam_id)
    form = CamForm.over(row, system().unit("lift"))
    if _is_sound(form):
        with faults_shown(form, row):
            cams.change(db(), actor(), row, form.read())
            return _saved(row)
    back = url_for("cams.cam", cam_id=row.id)
    return form_page("cams/form.html", form, row=row, more=form.has_more, back=back)


@blueprint.post("/cams/<int:cam_id>/archive")
def archive(cam_id: int) -> ResponseReturnValue:
    """Offer a cam no more."""
    row = cams.get(db(), cam_id)
    cams.archive(db(), actor(), row)
    flash(gettext("{row} is archived.", row=row.name))
    return redirect(list_of(row.owner))


@blueprint.post("/cams/<int:cam_id>/restore")
def restore(cam_id: int) -> ResponseReturnValue:
    """Offer an archived cam again."""
    row = cams.get(db(), cam_id)
    cams.restore(db(), actor(), row)
    flash(gettext("{row} is offered again.", row=row.name))
    return redirect(url_for("cams.cam", cam_id=row.id))


@blueprint.get("/cams/<int:cam_id>/file")
def file(cam_id: int) -> Response:
    """A cam as a file."""
    row = cams.get(db(), cam_id)
    headers = {"Content-Disposition": f'attachment; filename="cam-{row.id}.toml"'}
    text = camfile.dumps(cams.document(row))
    return Response(text, mimetype="application/toml", headers=headers)


def list_of(owner: Owner) -> str:
    """The address of the cams of an engine type or a job."""
    if isinstance(owner, EngineType):
        return url_for("cams.of_owner", engine_type_id=owner.id)
    return url_for("cams.of_owner", number=owner.number)


def _owner(engine_type_id: int | None, number: str) -> Owner:
    if engine_type_id is not None:
        return engine_types.get(db(), engine_type_id)
    return jobs.get(db(), number)


def _listed(owner: Owner, form: UploadForm) -> ResponseReturnValue:
    return form_page(
        "cams/index.html",
        form,
        owner=owner,
        cams=cams.of_owner(db(), owner),
        of_engine=isinstance(owner, EngineType),
    )


def _is_sound(form: CamForm) -> bool:
    """Tell whether a form was sent without a fault; the fields' and the cam's show in one go."""
    if not form.is_submitted():
        return False
    form.validate()
    with faults_shown(form):
        form.read()
    return not form.errors


def _saved(row: Cam) -> ResponseReturnValue:
    flash(gettext("{row} is saved.", row=row.name))
    return redirect(url_for("cams.cam", cam_id=row.id))
