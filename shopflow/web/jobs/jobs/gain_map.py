"""The map of a head's ports by gain, on its page."""

from __future__ import annotations

from markupsafe import Markup

from shopflow.charts.gain_map import GainMap, PortSpot
from shopflow.models import Visit
from shopflow.services.analysis import port_gains
from shopflow.texts import gettext, lazy
from shopflow.web.drawing import head_drawn
from shopflow.web.filters import sentence

NAMES = {
    "gain": lazy("Gain"),
    "loss": lazy("Loss"),
    "same": lazy("Under 0.5 %"),
    "one test": lazy("One test"),
    "not tested": lazy("Not tested"),
}
"""Name of each state of a port."""


def drawn(visit: Visit) -> Markup | None:
    """The map as a drawing; none where no port was tested twice."""
    ports = port_gains.of_visit(visit)
    plan = visit.head.plan
    if plan is None or all(port.gain is None for port in ports):
        return None
    spots = [
        PortSpot(
            sentence(port.label),
            tuple(plan.cylinders.index(number) for number in port.cylinders),
            port.side,
            port.tests,
            port.gain,
        )
        for port in ports
    ]
    names = {state: str(name) for state, name in NAMES.items()}
    plan_drawn = GainMap(
        gettext("Gain by port"), [str(cylinder) for cylinder in plan.cylinders], spots, names
    )
    return head_drawn(plan_drawn, "gain-map")
