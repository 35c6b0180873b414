"""Labels of bins: choosing what to print them on, and the PDF."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, Response, redirect, request, url_for
from flask.typing import ResponseReturnValue

from shopflow import papers
from shopflow.models import Part
from shopflow.services.paperwork import labels
from shopflow.services.parts import catalog
from shopflow.services.shop.house_style import the_style
from shopflow.texts import gettext
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.paperwork.labels.forms import TagsForm
from shopflow.web.paperwork.papers.pdf import pdf
from shopflow.web.parts import must_be_used

blueprint = Blueprint("bin_labels", __name__, url_prefix="/bin-labels")
blueprint.before_request(must_be_used)


@blueprint.route("", methods=["GET", "POST"])
def choose() -> ResponseReturnValue:
    """Choose what to print the labels of a part, or of those found, on."""
    form = TagsForm(data={"label": the_style(db()).label_size, "start": 1, "copies": 1})
    form.copies.label.text = gettext("Labels per part")
    if form.validate_on_submit():
        with faults_shown(form):
            labels.of_bins(db(), [], **form.printing)
            return redirect(url_for("bin_labels.sheet", **form.printing, **_wanted()))
    return form_page("bin_labels/choose.html", form, parts=_parts())


@blueprint.get("/sheet.pdf")
def sheet() -> Response:
    """The labels as PDF; label, start and copies as asked for."""
    start, copies = (request.args.get(name, 1, type=int) for name in ("start", "copies"))
    label = request.args.get("label", "")
    content = labels.of_bins(db(), _parts(), label=label, start=start, copies=copies)
    return pdf(papers.bin_labels(content), "bin-labels")


def _parts() -> list[Part]:
    """The part asked for, or a page of those that match."""
    key = request.args.get("part_id", type=int)
    if key is not None:
        return [catalog.get(db(), key)]
    rows = catalog.search(db(), request.args.get("q", ""))[: catalog.A_PAGE]
    return [row.part for row in rows if row.part.active]


def _wanted() -> dict[str, Any]:
    return {name: request.args[name] for name in ("part_id", "q") if name in request.args}
