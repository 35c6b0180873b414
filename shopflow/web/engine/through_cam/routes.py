"""The page of a head's ports through a cam."""

from __future__ import annotations

from typing import Any

from flask import Blueprint, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.papers.through_cam import (
    ABOUT,
    beyond,
    engine_figures,
    port_rows,
    port_titles,
    stand_ins,
    through_cam_chart,
)
from shopflow.services.engine import through_cam
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw
from shopflow.web.engine.through_cam.engine import engine_chart, in_words
from shopflow.web.engine.through_cam.forms import ThroughCamForm
from shopflow.web.forms import form_page

blueprint = Blueprint("through_cam", __name__)


@blueprint.get("/heads/<tag>/cam")
def head(tag: str) -> ResponseReturnValue:
    """Effective area over the time the cam holds the valves open, before and after the work."""
    visit = jobs.visit(db(), tag)
    form = ThroughCamForm.from_query(request.args, db(), visit)
    if form.drawn is None:
        return render_template("through_cam/none.html", visit=visit)
    form.validate()
    shown = through_cam.through_cam(db(), visit, form.drawn, form.tests, actor().at)
    engine = shown.engine
    return form_page(
        "through_cam/head.html",
        form,
        visit=visit,
        cam=form.drawn,
        shown=shown,
        chart=draw(through_cam_chart(shown.cam, system()), "cam", 640.0, 340.0),
        titles=port_titles(system()),
        rows=port_rows(shown.cam.ports, system()),
        beyond=beyond(shown.cam, system()),
        stand_ins=stand_ins(shown.cam),
        figures=engine_figures(shown.cam, system()),
        about=ABOUT,
        engine=engine,
        engine_words=in_words(engine, shown.display) if engine else None,
        demand_chart=engine_chart(engine) if engine else None,
    )


@blueprint.post("/heads/<tag>/cam/forecast")
def save_forecast(tag: str) -> ResponseReturnValue:
    """Save the forecast of air and power as it stands."""
    visit = jobs.visit(db(), tag)
    form = ThroughCamForm.from_query(request.args, db(), visit)
    through_cam.save_forecast(db(), actor(), visit, form.drawn, form.tests)
    flash(gettext("The forecast is saved. Results reported from now on are compared with it."))
    chosen: dict[str, Any] = {"tag": tag, **form.asked_for}
    return redirect(url_for("through_cam.head", **chosen, _anchor="engine"))
