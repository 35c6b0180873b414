"""Contents of a comparison: the way to compare, its charts, its results."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace

from shopflow.charts import Chart
from shopflow.services.analysis import comparisons
from shopflow.services.analysis.comparisons import Difference, Member, Ports
from shopflow.services.analysis.side_ratios import SideRatio, side_ratios
from shopflow.services.measuring import uncertainties
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem
from shopflow.web.analysis.comparisons.charts import (
    gain_chart,
    member_chart,
    ports_chart,
    ratio_chart,
    source_chart,
)
from shopflow.web.analysis.comparisons.query import Query
from shopflow.web.db import db
from shopflow.web.drawing import Drawn, draw

UNLIKE_SIDES = lazy(
    "An intake and an exhaust test are compared as a ratio: neither gains or loses on the other."
)

TALL = 330.0
"""Height of a chart in points: room for the names of eight curves."""


@dataclass(frozen=True)
class ComparisonResults:
    """Results of one way to compare; those it lacks stay empty."""

    chart: Chart | None = None
    differences: Sequence[Difference] = ()
    ports: Sequence[Ports] = ()
    ratios: Sequence[SideRatio] = ()
    remark: str = ""
    """Reason why the tests are compared in another way than the one requested."""

    @property
    def is_empty(self) -> bool:
        """True where this way has nothing to compare among the tests."""
        return not (self.differences or self.ports or self.ratios)

    @property
    def cautions(self) -> list[str]:
        """Cautions about these results, each stated once."""
        parts: tuple[Difference | Ports, ...] = (*self.differences, *self.ports)
        return list(dict.fromkeys(text for part in parts for text in part.cautions))


@dataclass(frozen=True)
class Figures:
    """Everything below the picker."""

    mode: str
    charts: tuple[Drawn, ...]
    results: ComparisonResults
    share_calibration: bool
    source_chart: Drawn | None = None
    """Opening and all else behind the only difference."""


def figures(members: Sequence[Member], query: Query, units: UnitSystem) -> Figures:
    """Compare one or more sessions in the way asked for."""
    results = results_by(members, query, units)
    mode = "ratio" if results.ratios else query.mode or suggested(members)
    charts = [draw(_main_chart(members, query, units), "curves", height=TALL)]
    # The gain is not drawn twice.
    if results.chart is not None and (mode, query.view.plot) != ("gain", "gain"):
        charts.append(draw(results.chart, "difference", height=TALL))
    return Figures(
        mode,
        tuple(charts),
        results,
        comparisons.share_one_calibration(members),
        _source_chart(results.differences, query, units),
    )


def _source_chart(
    differences: Sequence[Difference], query: Query, units: UnitSystem
) -> Drawn | None:
    if len(differences) != 1 or not differences[0].source_rows:
        return None
    return draw(source_chart(differences[0], query.view, units), "source", height=TALL)


def results_by(members: Sequence[Member], query: Query, units: UnitSystem) -> ComparisonResults:
    """Results of the way requested, or else of the one these tests suggest."""
    way = _WAYS[query.mode or suggested(members)]
    return way(members, query, units) if len(members) > 1 else ComparisonResults()


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


def _main_chart(members: Sequence[Member], query: Query, units: UnitSystem) -> Chart:
    if query.view.plot != "gain":
        return member_chart(members, query.view, units)
    first, *others = members
    gains = [
        comparisons.difference(first, other, query.view.against)
        for other in others
        if other.row.side == first.row.side
    ]
    names = [gain.after for gain in gains]
    return gain_chart(
        gains, names, query.view, units, gettext("Difference from {first}", first=first.name)
    )


def _gain(members: Sequence[Member], query: Query, units: UnitSystem) -> ComparisonResults:
    """Before and after of every port, or of the two sessions chosen."""
    pairs = _pairs(members, query)
    before, after = pairs[0]
    if before.row.side != after.row.side:
        return replace(_ratio(pairs[0], query, units), remark=UNLIKE_SIDES)
    usual = uncertainties.usual(db())
    differences = [comparisons.difference(*pair, query.view.against, usual) for pair in pairs]
    first = differences[0]
    is_one = len(differences) == 1
    title = (
        gettext("{after} against {before}", after=first.after, before=first.before)
        if is_one
        else gettext("Last test of each port against its first")
    )
    names = [first.after] if is_one else [each.port for each in differences]
    return ComparisonResults(
        gain_chart(differences, names, query.view, units, title), differences=differences
    )


def _pairs(members: Sequence[Member], query: Query) -> list[tuple[Member, Member]]:
    by_key = {member.row.id: member for member in members}
    chosen = [by_key.get(key or 0) for key in (query.before, query.after)]
    of_ports = comparisons.pairs(members)
    if of_ports and not any(chosen):
        return of_ports
    return [(chosen[0] or members[0], chosen[1] or members[-1])]


def _ports(members: Sequence[Member], query: Query, units: UnitSystem) -> ComparisonResults:
    spreads = comparisons.port_spreads(members, query.view.against)
    return (
        ComparisonResults(ports_chart(spreads, query.view, units), ports=spreads)
        if spreads
        else ComparisonResults()
    )


def _heads(members: Sequence[Member], query: Query, units: UnitSystem) -> ComparisonResults:
    differences = comparisons.head_differences(members, query.view.against)
    if not differences:
        return ComparisonResults()
    sides, title = (
        [difference.side for difference in differences],
        gettext("The second head against the first"),
    )
    return ComparisonResults(
        gain_chart(differences, sides, query.view, units, title), differences=differences
    )


def _ratio(members: Sequence[Member], query: Query, units: UnitSystem) -> ComparisonResults:
    ratios = side_ratios(members, query.view.against)
    return (
        ComparisonResults(ratio_chart(ratios, query.view, units), ratios=ratios)
        if ratios
        else ComparisonResults()
    )


_WAYS: dict[str, Callable[[Sequence[Member], Query, UnitSystem], ComparisonResults]] = {
    "gain": _gain,
    "ports": _ports,
    "heads": _heads,
    "ratio": _ratio,
}
