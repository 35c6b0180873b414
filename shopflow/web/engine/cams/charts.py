"""The chart of a cam: valve lift over crank angle."""

from __future__ import annotations

import numpy as np

from shopflow.calc.cam import ValveMotion
from shopflow.camfile import CamDocument
from shopflow.charts import Axis, Chart, Series
from shopflow.units import UnitSystem, from_si, pretty

STEP = 2.0
"""Crank degrees between the points of a curve."""

MARKED_EVERY = 10
"""Points from one mark to the next."""


def cam_chart(cam: CamDocument, units: UnitSystem) -> Chart:
    """Valve lift of both sides over crank angle."""
    unit, places = units.choices["lift"]
    return Chart(
        title="Valve lift over crank angle",
        x=Axis("Crank angle from top dead centre of the overlap", "°"),
        y=Axis("Valve lift", pretty(unit)),
        series=[_series(side, motion, unit) for side, motion in cam.motions.items()],
        places=places,
        x_places=0,
        x_from_zero=False,
    )


def _series(side: str, motion: ValveMotion, unit: str) -> Series:
    first, last = np.floor(motion.opens / STEP) + 1, np.ceil(motion.closes / STEP)
    inside = (np.arange(first, last) * STEP).tolist()
    angles = [motion.opens, *inside, motion.closes]
    lifts = [from_si(lift, unit) for lift in motion.lift(np.array(angles)).tolist()]
    path = list(zip(angles, lifts, strict=True))
    marked = [point for point in path[1:-1] if point[0] % (STEP * MARKED_EVERY) == 0.0]
    ends = [path[0], *marked, path[-1]]
    return Series(side, [x for x, _ in ends], [y for _, y in ends], path=path)
