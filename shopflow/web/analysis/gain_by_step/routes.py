"""Gain by step: a head's tests in order, in parts of the lift, adding up."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow import sentences
from shopflow.calc.workings.comparison import WORDS, of_gain
from shopflow.errors import NotFoundError
from shopflow.services.analysis import gain_by_step
from shopflow.services.analysis.gain_by_step import PortWorth
from shopflow.services.jobs import jobs
from shopflow.texts import gettext
from shopflow.web.analysis.gain_by_step.charts import worth_chart
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import Drawn, draw

blueprint = Blueprint("gain_by_step", __name__)


@blueprint.get("/heads/<tag>/gain-by-step")
def of_head(tag: str) -> ResponseReturnValue:
    """Show the gain of each step of a head's work, port by port."""
    visit = jobs.visit(db(), tag)
    ports = [(port, _chart(index, port)) for index, port in enumerate(gain_by_step.of_head(visit))]
    return render_template("gain_by_step/head.html", visit=visit, ports=ports)


@blueprint.get("/heads/<tag>/gain-by-step/<int:port>/<int:after>/<part>")
def worked(tag: str, port: int, after: int, part: str) -> ResponseReturnValue:
    """Show the calculation of one step's gain over a part of the lift; ports count from 1.

    The step is the one before the test at index `after`, from 0; with 0 it is all of them.
    """
    visit = jobs.visit(db(), tag)
    ports = gain_by_step.of_head(visit)
    if not 1 <= port <= len(ports):
        raise NotFoundError(gettext("no port of that head in this place was tested twice"))
    of_port = ports[port - 1]
    gain = gain_by_step.part_gain(of_port, after, part)
    finding = sentences.called(gain.step.flow.verdict, not gain.cuts.is_none)
    return render_template(
        "gain_by_step/working.html",
        visit=visit,
        port=of_port,
        held=gain,
        words=WORDS[part],
        workings=of_gain(gain.step.flow, system(), finding),
    )


def _chart(index: int, port: PortWorth) -> Drawn | None:
    chart = worth_chart(port, system())
    return None if chart is None else draw(chart, f"worth-{index}")
