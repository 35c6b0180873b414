"""What each operation was worth: a head's tests in order, in parts of the lift, adding up."""

from __future__ import annotations

from flask import Blueprint, render_template
from flask.typing import ResponseReturnValue
from markupsafe import Markup

from shopflow.charts import Axis, Chart, Series, layout, svg
from shopflow.services import jobs, worths
from shopflow.services.worths import PortWorth
from shopflow.units import from_si, pretty
from shopflow.web.context import system
from shopflow.web.db import db

blueprint = Blueprint("worths", __name__)


@blueprint.get("/heads/<tag>/worth")
def of_head(tag: str) -> ResponseReturnValue:
    """What each step of a head's work was worth, port by port."""
    stay = jobs.visit(db(), tag)
    ports = worths.of_head(stay)
    drawn = [(port, _drawn(place, port)) for place, port in enumerate(ports)]
    return render_template("worths/head.html", stay=stay, ports=drawn)


def _drawn(place: int, port: PortWorth) -> Markup | None:
    """Mean flow of each part of the lift, test by test, in steps."""
    found = port.worth
    if found is None:
        return None
    flow = system().unit("flow")
    series = []
    for part, _ in enumerate(found.parts):
        means = [found.steps[0][part].before, *(step[part].after for step in found.steps)]
        series.append(
            Series(
                name=found.parts[part].name,
                x=[float(test) for test in range(1, len(means) + 1)],
                y=[from_si(mean, flow) for mean in means],
                as_received=part == 0,
            )
        )
    chart = Chart(
        title=f"Mean flow by test: {port.title}",
        x=Axis("Test"),
        y=Axis("Mean flow", pretty(flow)),
        series=series,
        from_zero=False,
        x_places=0,
        x_from_zero=False,
    )
    # The text in it was escaped when the drawing was written.
    return Markup(svg.render(layout(chart, 560.0, 300.0), f"worth-{place}"))
