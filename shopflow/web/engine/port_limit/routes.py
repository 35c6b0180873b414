"""The page of what limits a port."""

from __future__ import annotations

from flask import Blueprint, render_template, request
from flask.typing import ResponseReturnValue

from shopflow.errors import ValidationError
from shopflow.services.bench import port_surveys
from shopflow.services.engine import port_limit
from shopflow.services.engine.port_limit import CHANGEABLE, OnPaper, PortLimit
from shopflow.services.jobs import jobs
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import draw
from shopflow.web.engine.port_limit.charts import areas_chart
from shopflow.web.engine.port_limit.forms import PortLimitForm
from shopflow.web.engine.port_limit.words import ABOUT, finding, verdict
from shopflow.web.forms import form_page, show_faults

blueprint = Blueprint("port_limit", __name__)


@blueprint.get("/heads/<tag>/port/limit")
def head(tag: str) -> ResponseReturnValue:
    """The narrowest place on the way through a port, by lift, and with sizes changed on paper."""
    visit = jobs.visit(db(), tag)
    rows = port_limit.testable(visit)
    if not rows:
        return render_template("port_limit/none.html", visit=visit)
    form = PortLimitForm.from_query(request.args, rows)
    limit = port_limit.of_test(db(), form.row)
    form.name_sizes(limit)
    on_paper = _on_paper(form, limit)
    ways = [(limit.crossing, limit.limits[-1])]
    if on_paper is not None:
        ways.append((on_paper.crossing, on_paper.limits[-1]))
    return form_page(
        "port_limit/head.html",
        form,
        visit=visit,
        limit=limit,
        on_paper=on_paper,
        changeable=CHANGEABLE,
        outdated_by=port_surveys.outdated_by(form.row),
        findings=[finding(*way, limit, system()) for way in ways],
        verdict=verdict,
        chart=draw(areas_chart(limit, on_paper, system()), "areas", 640.0, 340.0),
        about=ABOUT,
    )


def _on_paper(form: PortLimitForm, limit: PortLimit) -> OnPaper | None:
    """The way with the sizes of the form; None where none is changed, or one is refused."""
    if not form.validate() or not form.is_changed:
        return None
    try:
        return port_limit.on_paper(db(), limit, form.sizes, form.new_areas)
    except ValidationError as error:
        show_faults(form, error)
        return None
