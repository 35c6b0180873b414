"""Velocity maps of a head: listed, added, shown and discarded."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, url_for
from flask.typing import ResponseReturnValue

from shopflow.calc.traverse import RINGS
from shopflow.papers.velocity_map import ABOUT, drawing, figures, remarks, rows, titles
from shopflow.services.bench import velocity_maps
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.bench.velocity_maps.forms import VelocityMapForm
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import velocity_map_drawn
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("velocity_maps", __name__)


@blueprint.get("/heads/<tag>/velocity-maps")
def index(tag: str) -> ResponseReturnValue:
    """The velocity maps of a head."""
    visit = jobs.visit(db(), tag)
    maps = [velocity_maps.mapped(row) for row in velocity_maps.of_visit(db(), visit)]
    return render_template("velocity_maps/index.html", visit=visit, maps=maps)


@blueprint.route("/heads/<tag>/velocity-maps/new", methods=["GET", "POST"])
def create(tag: str) -> ResponseReturnValue:
    """Add a velocity map from a probe's readings."""
    visit = jobs.visit(db(), tag)
    form = VelocityMapForm.of(visit)
    if form.validate_on_submit():
        with faults_shown(form):
            operations.must_be_open(visit)
            row = velocity_maps.add(db(), actor(), visit, form.values)
            flash(gettext("The velocity map is saved."))
            return redirect(url_for("velocity_maps.velocity_map", velocity_map_id=row.id))
    return form_page("velocity_maps/form.html", form, visit=visit, shares=RINGS)


@blueprint.get("/velocity-maps/<int:velocity_map_id>")
def velocity_map(velocity_map_id: int) -> ResponseReturnValue:
    """A velocity map, with what it comes to."""
    row = velocity_maps.get(db(), velocity_map_id)
    content = velocity_maps.sheet(db(), row, actor().at).content
    return render_template(
        "velocity_maps/map.html",
        row=row,
        visit=row.session.job_head,
        content=content,
        chart=velocity_map_drawn(drawing(content, system())),
        figures=figures(content, system()),
        remarks=remarks(content),
        titles=titles(content, system()),
        rows=rows(content, system()),
        about=ABOUT,
    )


@blueprint.post("/velocity-maps/<int:velocity_map_id>/discard")
def discard(velocity_map_id: int) -> ResponseReturnValue:
    """Discard a velocity map that was entered by mistake."""
    row = velocity_maps.get(db(), velocity_map_id)
    tag = row.session.job_head.tag
    velocity_maps.discard(db(), actor(), row)
    flash(gettext("The velocity map is discarded."))
    return redirect(url_for("velocity_maps.index", tag=tag))
