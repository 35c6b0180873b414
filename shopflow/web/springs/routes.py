"""Springs of a head valve by valve, changed by side; the usual ones of an engine type."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.documents import SpringSide, cautions
from shopflow.errors import NotFoundError
from shopflow.models import EngineType, Spring, Visit
from shopflow.models.places import SIDES
from shopflow.papers.springs import column_titles, side_title, spring_chart
from shopflow.services.jobs import jobs
from shopflow.services.registry import engine_types
from shopflow.services.springs import records, sheets
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.springs.forms import SpringForm

blueprint = Blueprint("springs", __name__)

ON_THE_SHEET = (
    "installed height", "seat load", "open load", "squareness", "retainer to guide",
)  # fmt: skip
"""Columns of the measurement sheet that the page leads to."""


@blueprint.get("/heads/<tag>/springs")
def head(tag: str) -> ResponseReturnValue:
    """A head's springs: loads, shims and room of each valve, the worst named."""
    visit = jobs.visit(db(), tag)
    sides = [sheets.side(db(), visit, side, system()) for side in SIDES]
    return render_template(
        "springs/head.html",
        visit=visit,
        sides=[_shown(visit, side) for side in sides],
        titles=column_titles(),
        on_the_sheet=ON_THE_SHEET,
        caution=cautions.BY_HAZARD["springs"],
        deferral=cautions.DEFERRAL,
    )


@blueprint.route("/heads/<tag>/springs/<side>", methods=["GET", "POST"])
def edit(tag: str, side: str) -> ResponseReturnValue:
    """Change the springs of a head's side; new ones start from the usual ones."""
    visit = jobs.visit(db(), tag)
    row, usual = records.of_owner(db(), visit, side), records.usual(db(), visit, side)
    return _form(visit, side, row, usual, url_for("springs.head", tag=tag))


@blueprint.post("/heads/<tag>/springs/<side>/remove")
def remove(tag: str, side: str) -> ResponseReturnValue:
    """Remove the springs of a head's side."""
    _remove(jobs.visit(db(), tag), side)
    return redirect(url_for("springs.head", tag=tag))


@blueprint.get("/engines/<int:engine_type_id>/springs")
def usual(engine_type_id: int) -> ResponseReturnValue:
    """The usual springs of an engine type."""
    row = engine_types.get(db(), engine_type_id)
    springs = {side: records.of_owner(db(), row, side) for side in SIDES}
    return render_template("springs/usual.html", engine_type=row, springs=springs)


@blueprint.route("/engines/<int:engine_type_id>/springs/<side>", methods=["GET", "POST"])
def edit_usual(engine_type_id: int, side: str) -> ResponseReturnValue:
    """Change the usual springs of an engine type's side."""
    owner = engine_types.get(db(), engine_type_id)
    row = records.of_owner(db(), owner, side)
    return _form(owner, side, row, None, url_for("springs.usual", engine_type_id=engine_type_id))


@blueprint.post("/engines/<int:engine_type_id>/springs/<side>/remove")
def remove_usual(engine_type_id: int, side: str) -> ResponseReturnValue:
    """Remove the usual springs of an engine type's side."""
    _remove(engine_types.get(db(), engine_type_id), side)
    return redirect(url_for("springs.usual", engine_type_id=engine_type_id))


def _shown(visit: Visit, side: SpringSide) -> dict[str, Any]:
    """A side with its heading, its drawing, and whether its springs are the head's own."""
    own = records.of_owner(db(), visit, side.side)
    return {
        "side": side,
        "title": side_title(side),
        "chart": draw(spring_chart(side), side.side, 640.0, 320.0) if side.curve else None,
        "is_own": own is not None,
        "is_usual": own is None and records.usual(db(), visit, side.side) is not None,
    }


def _form(
    owner: EngineType | Visit, side: str, row: Spring | None, usual: Spring | None, back: str
) -> ResponseReturnValue:
    form = SpringForm.over(row, usual)
    if form.more_points.data:
        form.add_points()
    elif form.validate_on_submit():
        with faults_shown(form, row):
            records.save(db(), actor(), owner, side, form.spring_values, form.point_values)
            flash(
                gettext("The intake springs are saved.")
                if side == "intake"
                else gettext("The exhaust springs are saved.")
            )
            return redirect(back)
    return form_page(
        "springs/form.html", form, owner=owner, side=side, row=row, usual=usual, back=back,
        of_head=isinstance(owner, Visit),
    )  # fmt: skip


def _remove(owner: EngineType | Visit, side: str) -> None:
    """Remove a side's springs. Raises NotFoundError where there are none."""
    row = records.of_owner(db(), owner, side)
    if row is None:
        raise NotFoundError(gettext("there are no springs on record for this side"))
    records.remove(db(), actor(), row)
    flash(gettext("The springs were removed."))
