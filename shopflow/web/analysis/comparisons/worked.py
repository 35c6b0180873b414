"""The workings behind a comparison's figures."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass
from functools import partial

from shopflow.calc.area_spread import AreaSpread
from shopflow.calc.ratio import RatioPoint
from shopflow.calc.worth import FlowGain
from shopflow.errors import NotFoundError
from shopflow.services.analysis.comparisons import Difference, Member
from shopflow.services.analysis.workings.comparison import (
    WORDS,
    of_difference,
    of_ports,
    of_ratio,
    of_step,
)
from shopflow.services.analysis.workings.working import Working
from shopflow.texts import gettext
from shopflow.units import UnitSystem
from shopflow.web.analysis.comparisons.asked import Asked
from shopflow.web.analysis.comparisons.figures import Found, found_by

Section = tuple[str, Sequence[FlowGain | AreaSpread | RatioPoint], Callable[..., list[Working]]]


@dataclass(frozen=True)
class Worked:
    """Workings under a title, and what was held against what."""

    title: str
    what: str
    workings: list[Working]


def at_lift(
    members: Sequence[Member], asked: Asked, number: int, place: int, units: UnitSystem
) -> Worked:
    """The workings at a lift of a comparison's numbered table, both from 1.

    Raises NotFoundError for what is not there.
    """
    tables = list(_tables(found_by(members, asked, units)))
    if not 1 <= number <= len(tables):
        raise NotFoundError(gettext("that comparison has no such table"))
    what, points, work_out = tables[number - 1]
    if not 1 <= place <= len(points):
        raise NotFoundError(gettext("that comparison has no such lift"))
    lift = units.text(points[place - 1].lift, "lift")
    return Worked(gettext("Working at lift {lift}", lift=lift), what, work_out(place - 1, units))


def in_part(
    members: Sequence[Member], asked: Asked, number: int, name: str, units: UnitSystem
) -> Worked:
    """The workings of one part of the lift, of the numbered pair, from 1. Raises NotFoundError."""
    for found in found_by(members, asked, units).differences[number - 1 : number]:
        for step in found.parts:
            if found.curves and step.part.name == name:
                workings = of_step(step, units, found.is_gain)
                return Worked(
                    gettext("Working over {words}", words=WORDS[name]), _what(found), workings
                )
    raise NotFoundError(gettext("that comparison has no such part of the lift"))


def _tables(found: Found) -> Iterator[Section]:
    """Each table of a comparison: what it holds against what, its points, and their workings."""
    for difference in found.differences:
        yield _what(difference), difference.points, partial(of_difference, difference)
    for ports in found.ports:
        what = gettext(
            "{capitalize} ports, {count} side by side",
            capitalize=ports.side.capitalize(),
            count=len(ports.members),
        )
        yield what, ports.points, partial(of_ports, ports)
    for sides in found.ratios:
        what = gettext(
            "{exhaust}, over {intake}", exhaust=sides.exhaust.name, intake=sides.intake.name
        )
        yield what, sides.ratio.points, partial(of_ratio, sides)


def _what(found: Difference) -> str:
    return gettext("{after}, against {before}", after=found.after, before=found.before)
