"""The map of a head by its pressure, vacuum, leak and crack tests."""

from __future__ import annotations

from collections.abc import Iterator

from markupsafe import Markup

from shopflow.charts.head_map import RESULTS, HeadMap, Spot, State
from shopflow.models import (
    HeadPlan,
    IntegrityPart,
    IntegrityTest,
    IntegrityVerdict,
    PlaceKind,
    Visit,
)
from shopflow.services.measuring import limit_checks
from shopflow.texts import gettext, translated
from shopflow.web.drawing import head_drawn

STATES: dict[IntegrityVerdict, State] = {
    IntegrityVerdict.FAILED: "out",
    IntegrityVerdict.REPAIRABLE: "out",
    IntegrityVerdict.WATCH: "watch",
    IntegrityVerdict.PASSED: "in",
}
WORST_FIRST: tuple[State, ...] = ("out", "watch", "in")


def drawn(visit: Visit) -> Markup | None:
    """The map as a drawing; none where no valve or cylinder was tested, or no layout is known."""
    plan = visit.head.plan
    if plan is None:
        return None
    rows = limit_checks.latest_tests(visit.integrity_tests)
    spots = list(_spots(plan, rows))
    if all(spot.state == "missing" for spot in spots):
        return None
    title = gettext("Map of the head by its leak and crack tests")
    chart = HeadMap(title, [str(cylinder) for cylinder in plan.cylinders], spots, RESULTS)
    return head_drawn(chart, "leak-map")


def _spots(plan: HeadPlan, rows: list[IntegrityTest]) -> Iterator[Spot]:
    for kind in (PlaceKind.VALVE, PlaceKind.CYLINDER):
        for place in plan.places(kind):
            here = [
                row
                for row in rows
                if row.cylinder == place.cylinder
                and row.side == place.side
                and row.valve in (None, place.valve)
                and row.part is not IntegrityPart.REGION
            ]
            states = [STATES[row.verdict] for row in here]
            worst = [each for each in WORST_FIRST if each in states]
            state: State = worst[0] if worst else "missing"
            words = ", ".join(f"{translated(row.kind)} {translated(row.result)}" for row in here)
            valves = len(plan.valves[place.side]) if place.side else 1
            yield Spot(
                place.label[:1].upper() + place.label[1:],
                plan.cylinders.index(place.cylinder) if place.cylinder else 0,
                place.side, place.valve or 1, valves, state, words,
            )  # fmt: skip
