"""What each operation was worth: a head's tests in order, in parts of the lift, adding up."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue

from shopflow.services import jobs, worths
from shopflow.services.worths import PortWorth
from shopflow.web.context import system
from shopflow.web.db import db
from shopflow.web.drawing import Drawn, drawn
from shopflow.web.worths.charts import worth_chart

blueprint = Blueprint("worths", __name__)


@blueprint.get("/heads/<tag>/worth")
def of_head(tag: str) -> ResponseReturnValue:
    """What each step of a head's work was worth, port by port."""
    stay = jobs.visit(db(), tag)
    ports = [(port, _drawn(place, port)) for place, port in enumerate(worths.of_head(stay))]
    return render_template("worths/head.html", stay=stay, ports=ports)


def _drawn(place: int, port: PortWorth) -> Drawn | None:
    chart = worth_chart(port, system())
    return None if chart is None else drawn(chart, f"worth-{place}")
