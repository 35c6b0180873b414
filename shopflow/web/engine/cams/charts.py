"""The chart of a cam: valve lift over crank angle."""

from __future__ import annotations

from shopflow.calc.cam import ValveMotion
from shopflow.calc.cycle_curves import lift_curve
from shopflow.camfile import CamDocument
from shopflow.charts import Axis, Chart, Series
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem, from_si, pretty

MARKED_EVERY = 20.0
"""Crank degrees from one mark to the next."""


def cam_chart(cam: CamDocument, units: UnitSystem) -> Chart:
    """Valve lift of both sides over crank angle."""
    unit, places = units.choices["lift"]
    return Chart(
        title=gettext("Valve lift over crank angle"),
        x=Axis(gettext("Crank angle from top dead center of the overlap"), "°"),
        y=Axis(gettext("Valve lift"), pretty(unit)),
        series=[_series(side, motion, unit) for side, motion in cam.motions.items()],
        places=places,
        x_places=0,
        x_from_zero=False,
    )


def _series(side: str, motion: ValveMotion, unit: str) -> Series:
    path = [(angle, from_si(lift, unit)) for angle, lift in lift_curve(motion)]
    marked = [point for point in path[1:-1] if point[0] % MARKED_EVERY == 0.0]
    ends = [path[0], *marked, path[-1]]
    return Series(translated(side), [x for x, _ in ends], [y for _, y in ends], path=path)
