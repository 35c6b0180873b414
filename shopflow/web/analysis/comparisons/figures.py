"""What a comparison shows: the way to compare, its charts, its figures."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shopflow.charts import Chart
from shopflow.services.analysis import comparisons
from shopflow.services.analysis.comparisons import Difference, Member, Ports, SideRatio
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem
from shopflow.web.analysis.comparisons.asked import Asked
from shopflow.web.analysis.comparisons.charts import (
    gain_chart,
    member_chart,
    ratio_chart,
    spread_chart,
)
from shopflow.web.drawing import Drawn, drawn

UNLIKE_SIDES = lazy(
    "An intake and an exhaust test are compared as a ratio: neither gains or loses on the other."
)

TALL = 330.0
"""Height of a chart in points: room for the names of eight curves."""


@dataclass(frozen=True)
class Found:
    """What one way of comparing gives; what it does not give stays empty."""

    chart: Chart | None = None
    differences: Sequence[Difference] = ()
    ports: Sequence[Ports] = ()
    ratios: Sequence[SideRatio] = ()
    remark: str = ""
    """Why the sessions are compared in another way than the one asked for."""

    @property
    def is_empty(self) -> bool:
        """Whether this way finds nothing to compare among the sessions."""
        return not (self.differences or self.ports or self.ratios)

    @property
    def cautions(self) -> list[str]:
        """What to know before these figures are believed, each said once."""
        parts: tuple[Difference | Ports, ...] = (*self.differences, *self.ports)
        return list(dict.fromkeys(text for part in parts for text in part.cautions))


@dataclass(frozen=True)
class Figures:
    """Everything below the picker."""

    mode: str
    charts: tuple[Drawn, ...]
    found: Found
    share_calibration: bool


def figures(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Figures:
    """Compare one or more sessions in the way asked for."""
    found = found_by(members, asked, units)
    mode = "ratio" if found.ratios else asked.mode or suggested(members)
    charts = [drawn(_main_chart(members, asked, units), "curves", height=TALL)]
    # The gain is not drawn twice.
    if found.chart is not None and (mode, asked.view.plot) != ("gain", "gain"):
        charts.append(drawn(found.chart, "difference", height=TALL))
    return Figures(mode, tuple(charts), found, comparisons.share_one_calibration(members))


def found_by(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Found:
    """What the way asked for, or else the one these sessions suggest, gives."""
    way = _WAYS[asked.mode or suggested(members)]
    return way(members, asked, units) if len(members) > 1 else Found()


def suggested(members: Sequence[Member]) -> str:
    """The way to compare that these sessions ask for."""
    heads = {member.row.job_head_id for member in members}
    sides = {member.row.side for member in members}
    ports = {(m.row.job_head_id, m.row.side, m.row.cylinder) for m in members}
    if len(members) == 2:
        return "ratio" if len(sides) == 2 else "gain"
    if len(ports) == 1 or (len(heads) == 1 and 2 * len(comparisons.pairs(members)) == len(members)):
        return "gain"
    return "heads" if len(heads) == 2 else "ports"


def _main_chart(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Chart:
    if asked.view.plot != "gain":
        return member_chart(members, asked.view, units)
    first, *others = members
    gains = [
        comparisons.difference(first, other, asked.view.against)
        for other in others
        if other.row.side == first.row.side
    ]
    names = [gain.after for gain in gains]
    return gain_chart(
        gains, names, asked.view, units, gettext("Difference from {first}", first=first.name)
    )


def _gain(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Found:
    """Before and after of every port, or of the two sessions chosen."""
    pairs = _pairs(members, asked)
    before, after = pairs[0]
    if before.row.side != after.row.side:
        return replace(_ratio(pairs[0], asked, units), remark=UNLIKE_SIDES)
    found = [comparisons.difference(*pair, asked.view.against) for pair in pairs]
    one = found[0]
    is_one = len(found) == 1
    title = (
        f"{one.after} against {one.before}"
        if is_one
        else gettext("Last test of each port against its first")
    )
    names = [one.after] if is_one else [each.port for each in found]
    return Found(gain_chart(found, names, asked.view, units, title), differences=found)


def _pairs(members: Sequence[Member], asked: Asked) -> list[tuple[Member, Member]]:
    by_key = {member.row.id: member for member in members}
    chosen = [by_key.get(key or 0) for key in (asked.before, asked.after)]
    of_ports = comparisons.pairs(members)
    if of_ports and not any(chosen):
        return of_ports
    return [(chosen[0] or members[0], chosen[1] or members[-1])]


def _ports(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Found:
    found = comparisons.port_spreads(members, asked.view.against)
    return Found(spread_chart(found, asked.view, units), ports=found) if found else Found()


def _heads(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Found:
    found = comparisons.head_differences(members, asked.view.against)
    if not found:
        return Found()
    sides, title = [one.side for one in found], gettext("The second head against the first")
    return Found(gain_chart(found, sides, asked.view, units, title), differences=found)


def _ratio(members: Sequence[Member], asked: Asked, units: UnitSystem) -> Found:
    found = comparisons.side_ratios(members, asked.view.against)
    return Found(ratio_chart(found, asked.view, units), ratios=found) if found else Found()


_WAYS: dict[str, Callable[[Sequence[Member], Asked, UnitSystem], Found]] = {
    "gain": _gain,
    "ports": _ports,
    "heads": _heads,
    "ratio": _ratio,
}
