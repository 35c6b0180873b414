"""Sections along a port: writing a row of them down, and the port's page."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.calc.workings.section import of_section, of_shape
from shopflow.errors import NotFoundError, ValidationError
from shopflow.models import Datum
from shopflow.papers.port import HOW, mach
from shopflow.papers.silhouette import caption
from shopflow.services.bench import port_surveys, sections
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations
from shopflow.texts import gettext, ngettext
from shopflow.web.auth import actor
from shopflow.web.bench.sections.figures import port_figures
from shopflow.web.bench.sections.forms import FlowForm, SectionsForm
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.forms import faults_shown, form_page

blueprint = Blueprint("sections", __name__, url_prefix="/heads/<tag>")


@blueprint.get("/port")
def port(tag: str) -> ResponseReturnValue:
    """The areas along a port, and a flow through them."""
    visit = jobs.visit(db(), tag)
    ports = port_surveys.ports(visit)
    if not ports:
        return render_template("sections/none.html", visit=visit)
    form = FlowForm.from_query(request.args, visit, ports)
    form.validate()
    figures = port_figures(visit, form)
    return form_page(
        "sections/port.html",
        form,
        visit=visit,
        figures=figures,
        how=HOW,
        mach=mach,
        caption=caption(figures.port),
    )


@blueprint.get("/port/<when>/<int:number>")
def worked(tag: str, when: str, number: int) -> ResponseReturnValue:
    """Show the calculation of one section's results, counted from 1."""
    visit = jobs.visit(db(), tag)
    ports = port_surveys.ports(visit)
    if not ports:
        raise NotFoundError(gettext("this head has no port sections"))
    form = FlowForm.from_query(request.args, visit, ports)
    port = sections.along_port(visit, form.chosen, form.row, form.place)
    survey = next((candidate for candidate in port.surveys if candidate.when == when), None)
    if survey is None or not 1 <= number <= len(survey.points):
        raise NotFoundError(gettext("this port does not have that section"))
    point = survey.points[number - 1]
    return render_template(
        "sections/working.html",
        visit=visit,
        port=port,
        point=point,
        row=form.row,
        asked=form.asked_for,
        workings=[
            *of_section(
                point.area,
                survey.tightest.area,
                port.throat,
                sections.passed(form.row, form.place) if form.row is not None else None,
                system(),
            ),
            *of_shape(point.area, point.shape, system()),
        ],
    )


@blueprint.route("/sections", methods=["GET", "POST"])
def record(tag: str) -> ResponseReturnValue:
    """Record the sections of a port, several rows at once."""
    visit = jobs.visit(db(), tag)
    step = operations.of_head(visit, request.args.get("operation", ""))
    form = SectionsForm.of(request.args)
    if form.more_rows.data:
        form.add_rows()
    elif form.validate_on_submit():
        with faults_shown(form):
            try:
                rows = sections.record(
                    db(), actor(), visit, form.place_values, form.row_values, step
                )
            except ValidationError as error:
                raise form.at_fields(error) from None
            flash(
                gettext(
                    "Saved: {section} of the {data} port.",
                    section=ngettext("{num} section", "{num} sections", len(form.row_values)),
                    data=form.side.data,
                )
            )
            saved = port_surveys.Port(form.side.data, rows[0].cylinder, Datum(form.datum.data))
            return redirect(url_for("sections.port", tag=tag, port=saved.key))
    return form_page("sections/record.html", form, visit=visit, step=step)
