"""What steps were worth, drawn."""

from __future__ import annotations

from shopflow.charts import Axis, Chart, Series
from shopflow.services.analysis.gain_by_step import PortWorth
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si, pretty


def worth_chart(port: PortWorth, units: UnitSystem) -> Chart | None:
    """Mean flow of each part of the lift, test by test; None where there is no worth."""
    found = port.worth
    if found is None:
        return None
    flow = units.unit("flow")
    tests = [float(test) for test in range(1, len(found.steps) + 2)]
    series = []
    for place, part in enumerate(found.parts):
        flows = [steps[place].flow for steps in found.steps]
        means = [flows[0].before, *(one.after for one in flows)]
        values = [from_si(mean, flow) for mean in means]
        series.append(
            Series(name=part.name, x=tests, y=values, as_received=place == 0, stepped=True)
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
