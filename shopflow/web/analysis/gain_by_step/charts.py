"""Chart of the gain by step."""

from __future__ import annotations

from shopflow.charts import Axis, Chart, Series
from shopflow.services.analysis.gain_by_step import PortWorth
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem, from_si, pretty


def worth_chart(port: PortWorth, units: UnitSystem) -> Chart | None:
    """Mean flow of each part of the lift, test by test; None where no gain can be stated."""
    worth = port.worth
    if worth is None:
        return None
    flow = units.unit("flow")
    tests = [float(test) for test in range(1, len(worth.steps) + 2)]
    series = []
    for index, part in enumerate(worth.parts):
        flows = [steps[index].flow for steps in worth.steps]
        means = [flows[0].before, *(flow_step.after for flow_step in flows)]
        values = [from_si(mean, flow) for mean in means]
        series.append(
            Series(
                name=translated(part.name), x=tests, y=values, as_received=index == 0, stepped=True
            )
        )
    return Chart(
        title=gettext("Mean flow by test: {port}", port=port.title),
        x=Axis(gettext("Test")),
        y=Axis(gettext("Mean flow"), pretty(flow)),
        series=series,
        from_zero=False,
        x_places=0,
        x_from_zero=False,
    )
