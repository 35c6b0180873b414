"""Chart of the areas along the way through a port, against lift."""

from __future__ import annotations

from collections.abc import Iterator, Sequence

from shopflow.calc.port_limit import Limit
from shopflow.calc.port_way import Passage
from shopflow.calc.uncertainty import COVERAGE_FACTOR
from shopflow.charts import Axis, Chart, Series
from shopflow.services.engine.port_limit import OnPaper, PortLimit
from shopflow.texts import gettext
from shopflow.units import UnitSystem, from_si, pretty


def areas_chart(limit: PortLimit, on_paper: OnPaper | None, units: UnitSystem) -> Chart:
    """The valve's areas and the narrowest section; with sizes changed on paper the least area along
    the way, as it is and changed."""
    length, area = units.unit("lift"), units.unit("port area")
    lifts = [from_si(lift, length) for lift in limit.lifts]
    series = (
        list(_places(limit, lifts, area))
        if on_paper is None
        else [
            _least(gettext("As it is"), limit.limits, lifts, area, is_now=True),
            _least(gettext("On paper"), on_paper.limits, lifts, area, is_now=False),
        ]
    )
    return Chart(
        title=gettext("Areas along the way")
        if on_paper is None
        else gettext("Least area along the way"),
        x=Axis(gettext("Lift"), pretty(length)),
        y=Axis(gettext("Area"), pretty(area)),
        series=series,
        places=units.choices["port area"][1],
        x_from_zero=False,
    )


def _places(limit: PortLimit, lifts: Sequence[float], area: str) -> Iterator[Series]:
    """Opening and throat, and of the sections the narrowest."""
    passages = limit.way.over(limit.lifts)
    shown = list(zip(limit.places, passages, strict=True))
    sections = sorted(shown[2:], key=lambda pair: float(pair[1].areas[0]))
    for place, passage in [*shown[:2], *sections[:1]]:
        yield Series(
            name=place.name,
            x=lifts,
            y=[from_si(float(value), area) for value in passage.areas],
            error=_bars(passage, area),
        )


def _bars(passage: Passage, area: str) -> list[float] | None:
    if passage.relative is None:
        return None
    halves = COVERAGE_FACTOR * passage.relative * passage.areas
    return [from_si(float(half), area) for half in halves]


def _least(
    name: str, limits: Sequence[Limit], lifts: Sequence[float], area: str, *, is_now: bool
) -> Series:
    return Series(
        name=name, x=lifts, y=[from_si(limit.area, area) for limit in limits], as_received=is_now
    )
