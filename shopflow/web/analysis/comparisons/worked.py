"""The workings behind a comparison's figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from shopflow import sentences
from shopflow.calc.area_spread import AreaSpread
from shopflow.calc.ratio import RatioPoint
from shopflow.calc.workings.comparison import (
    WORDS,
    of_gain,
    of_ports,
    of_ratio,
)
from shopflow.calc.workings.working import Working
from shopflow.calc.worth import FlowGain
from shopflow.errors import NotFoundError
from shopflow.services.analysis.comparisons import Difference, Member, Ports
from shopflow.services.analysis.side_ratios import SideRatio
from shopflow.texts import gettext, translated
from shopflow.units import UnitSystem
from shopflow.web.analysis.comparisons.figures import ComparisonResults, results_by
from shopflow.web.analysis.comparisons.query import Query

Section = tuple[str, Sequence[FlowGain | AreaSpread | RatioPoint], Callable[..., list[Working]]]


@dataclass(frozen=True)
class Worked:
    """Workings under a title, and what was held against what."""

    title: str
    what: str
    workings: list[Working]


def at_lift(
    members: Sequence[Member], query: Query, number: int, index: int, units: UnitSystem
) -> Worked:
    """The workings at a lift of a comparison's numbered table, both from 1.

    Raises NotFoundError for what is not there.
    """
    tables = list(_tables(results_by(members, query, units)))
    if not 1 <= number <= len(tables):
        raise NotFoundError(gettext("this comparison does not have that table"))
    title, points, work_out = tables[number - 1]
    if not 1 <= index <= len(points):
        raise NotFoundError(gettext("this comparison does not have that lift"))
    lift = units.text(points[index - 1].lift, "lift")
    return Worked(gettext("Working at lift {lift}", lift=lift), title, work_out(index - 1, units))


def in_part(
    members: Sequence[Member], query: Query, number: int, name: str, units: UnitSystem
) -> Worked:
    """The workings of one part of the lift, of the numbered pair, from 1. Raises NotFoundError."""
    for difference in results_by(members, query, units).differences[number - 1 : number]:
        for step in difference.parts:
            if difference.curves and step.part.name == name:
                finding = sentences.called(step.flow.verdict, difference.is_gain)
                workings = of_gain(step.flow, units, finding)
                return Worked(
                    gettext("Working over {words}", words=WORDS[name]), _title(difference), workings
                )
    raise NotFoundError(gettext("this comparison does not cover that part of the lift"))


def _tables(results: ComparisonResults) -> Iterator[Section]:
    """Each table of a comparison: what it holds against what, its points, and their workings."""
    for difference in results.differences:
        yield _title(difference), difference.points, partial(_of_difference, difference)
    for ports in results.ports:
        title = gettext(
            "{capitalize} ports, {count} side by side",
            capitalize=translated(ports.side).capitalize(),
            count=len(ports.members),
        )
        yield title, ports.points, partial(_of_ports, ports)
    for sides in results.ratios:
        title = gettext(
            "{exhaust}, over {intake}", exhaust=sides.exhaust.name, intake=sides.intake.name
        )
        yield title, sides.ratio.points, partial(_of_ratio, sides)


def _of_difference(difference: Difference, index: int, units: UnitSystem) -> list[Working]:
    point = difference.points[index]
    return of_gain(point, units, sentences.called(point.verdict, difference.is_gain))


def _of_ports(ports: Ports, index: int, units: UnitSystem) -> list[Working]:
    return of_ports(ports.points[index], [member.name for member in ports.members], units)


def _of_ratio(ratio: SideRatio, index: int, units: UnitSystem) -> list[Working]:
    return of_ratio(ratio.ratio.points[index])


def _title(difference: Difference) -> str:
    return gettext("{after}, against {before}", after=difference.after, before=difference.before)
