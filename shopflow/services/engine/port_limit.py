"""Limits of a port: its narrowest place by lift, as it is and with sizes changed on paper."""

from __future__ import annotations

import tomllib
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.areas import Valve
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.port_limit import (
    Crossing,
    Limit,
    change_over_cam,
    change_over_lift,
    changes_at,
    crossing,
    limits,
)
from shopflow.calc.port_way import Section, Way
from shopflow.camfile import Side
from shopflow.errors import FieldError, ValidationError
from shopflow.models import BenchSession, Datum, Measurement, Visit
from shopflow.services import fields
from shopflow.services.bench import port_surveys, section_checks, sessions
from shopflow.services.bench.sizes import NAMES
from shopflow.services.engine import cams
from shopflow.services.measuring import uncertainties
from shopflow.services.measuring.uncertainties import UsualUncertainties
from shopflow.texts import gettext, translated
from shopflow.units import Quantity

CHANGEABLE = ("head_diameter", "seat_angle", "seat_width", "throat_diameter", "stem_diameter")
"""Sizes of valve and seat that can be changed on paper."""

_AREA = fields.quantity("area", above=0.0)


@dataclass(frozen=True)
class PlaceOnTheWay:
    """A place on the way, as pages name it."""

    name: str
    size: Quantity | None = None
    """Area of a section as measured; None for a place of the valve."""


@dataclass(frozen=True)
class PortLimit:
    """The way through the port of a flow test, and its narrowest place at each lift tested."""

    row: BenchSession
    way: Way
    places: tuple[PlaceOnTheWay, ...]
    """In the order of the areas of each limit."""

    limits: tuple[Limit, ...]
    crossing: Crossing | None

    @property
    def lifts(self) -> list[float]:
        """Lifts tested, m."""
        return [limit.lift for limit in self.limits]

    @property
    def unstated(self) -> list[str]:
        """Names of the sizes whose uncertainty is not stated, each once."""
        return [str(NAMES["area" if name == "port_area" else name]) for name in self.way.unstated]

    @property
    def section_places(self) -> list[PlaceOnTheWay]:
        """The sections, in the order of the way's."""
        return [place for place in self.places if place.size is not None]


@dataclass(frozen=True)
class MeanChange:
    """Relative change in the mean of the least area, over lifts in words."""

    over: str
    change: float


@dataclass(frozen=True)
class OnPaper:
    """The way with sizes changed on paper, beside the way as it is: geometry, not flow."""

    limits: tuple[Limit, ...]
    changes: tuple[float, ...]
    """Relative change in the least area at each lift."""

    crossing: Crossing | None
    means: tuple[MeanChange, ...]


def testable(visit: Visit) -> list[BenchSession]:
    """Flow tests of a head that state the seat, so that the valve's areas are known."""
    return [row for row in visit.sessions if row.seat_angle is not None]


def suggested(rows: Sequence[BenchSession]) -> BenchSession:
    """The test to begin with: the last whose port has sections, else the last of an intake, else
    the last."""
    with_sections = [row for row in rows if port_surveys.standing(row)]
    intake = [row for row in rows if row.side == "intake"]
    return (with_sections or intake or list(rows))[-1]


def of_test(db: Session, row: BenchSession) -> PortLimit:
    """The limits of the port of a flow test that states its seat."""
    test = sessions.reduction(row).test
    usual = uncertainties.usual(db)
    measured = list(_sections(row, test, usual))
    way = Way(
        valve=test.valve,
        standard=usual.of_valve(test),
        sections=tuple(section for _, section in measured),
    )
    places = [
        PlaceOnTheWay(gettext("Valve opening")),
        PlaceOnTheWay(gettext("Throat")),
        *(place for place, _ in measured),
    ]
    return PortLimit(
        row, way, tuple(places), limits(way, test.lifts), crossing(way, test.lifts[-1])
    )


def on_paper(
    db: Session, limit: PortLimit, sizes: Mapping[str, str], areas: Mapping[int, str]
) -> OnPaper:
    """The same way with other sizes.

    `sizes` has sizes as typed, with units, by their names; `areas` has those of sections, by their
    places among them. Raises ValidationError keyed as "seat_angle" or "areas-0".
    """
    way = Way(
        _changed_valve(limit, sizes), limit.way.standard, tuple(_changed_sections(limit, areas))
    )
    return OnPaper(
        limits=limits(way, limit.lifts),
        changes=changes_at(limit.way, way, limit.lifts),
        crossing=crossing(way, limit.lifts[-1]),
        means=tuple(_means(db, limit, way)),
    )


def _sections(
    row: BenchSession, test: FlowTest, usual: UsualUncertainties
) -> Iterator[tuple[PlaceOnTheWay, Section]]:
    """The sections measured along the port tested and its manifold, in the order of the way; where
    there are none, the area that the test states."""
    rows = port_surveys.standing(row)
    for measurement in rows:
        area = measurement.value.si
        place = PlaceOnTheWay(_name(measurement), measurement.value)
        yield place, Section(area, usual.standard(section_checks.KIND, area))
    if not rows and row.port_area is not None and test.port_area is not None:
        stated = test.uncertainty.port_area
        usually = usual.standard(section_checks.KIND, test.port_area)
        place = PlaceOnTheWay(gettext("Port area of the test"), row.port_area)
        yield place, Section(test.port_area, usually if stated is None else stated)


def _name(row: Measurement) -> str:
    if row.datum is Datum.MANIFOLD:
        return gettext("Manifold, {distance} from its flange", distance=row.distance)
    return gettext(
        "Section {distance} from the {datum}",
        distance=row.distance,
        datum=translated(row.datum.value) if row.datum else "",
    )


def _changed_valve(limit: PortLimit, sizes: Mapping[str, str]) -> Valve:
    """The valve with these sizes, by the rules of a flow test."""
    if not sizes:
        return limit.way.valve
    content = tomllib.loads(testfile.dumps(sessions.document(limit.row)))
    content["valve"] |= sizes
    try:
        return testfile.check(content).flow_test().valve
    except ValidationError as error:
        raise ValidationError(
            [FieldError(fault.key.removeprefix("valve."), fault.message) for fault in error.faults]
        ) from None


def _changed_sections(limit: PortLimit, areas: Mapping[int, str]) -> Iterator[Section]:
    faults = []
    for index, section in enumerate(limit.way.sections):
        try:
            typed = _AREA(areas.get(index, ""))
        except ValueError as error:
            faults.append(FieldError(f"areas-{index}", str(error)))
            continue
        yield section if typed is None else Section(typed.si, section.standard)
    if faults:
        raise ValidationError(faults)


def _means(db: Session, limit: PortLimit, way: Way) -> Iterator[MeanChange]:
    """Change in the mean over lift, and over the time each cam of the head holds it open."""
    change = change_over_lift(limit.way, way, limit.lifts[-1])
    yield MeanChange(gettext("lift, up to the last tested"), change)
    side: Side = "intake" if limit.row.side == "intake" else "exhaust"
    for cam in cams.for_visit(db, limit.row.job_head):
        lobe = cams.document(cam).lobe_of(side)
        if lobe is not None:
            change = change_over_cam(limit.way, way, lobe.motion(side))
            yield MeanChange(gettext("the time {cam} holds it open", cam=cam.name), change)
