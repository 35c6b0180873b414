"""Sections along a port: writing down a row of them, and what a flow does in them."""

from __future__ import annotations

from collections.abc import Container, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.calc import sections
from shopflow.calc.port_limit import Section, Way, limits
from shopflow.calc.reduction import Reduction
from shopflow.calc.workings.section import Passed
from shopflow.errors import ValidationError
from shopflow.models import (
    BenchSession,
    Datum,
    Measurement,
    Operation,
    Visit,
    When,
)
from shopflow.services.actor import Actor
from shopflow.services.bench import test_names
from shopflow.services.bench.section_checks import (
    KIND,
    SHAPE,
    faults_of,
    is_given,
    kinds_of_values,
)
from shopflow.services.bench.sessions import reduction
from shopflow.services.bench.sizes import cut_between
from shopflow.services.measuring import measurements
from shopflow.services.measuring.uncertainties import NOTHING_STATED, UsualUncertainties
from shopflow.texts import gettext, translated
from shopflow.units import pretty_text

SECTION = 2
"""Index of the section on a way with one: behind opening and throat."""

FEWEST_ON_PAPER = 2
"""Sections a certificate shows a port by: one alone is no run along it."""


@dataclass(frozen=True)
class Port:
    """A port whose sections are all measured from one datum."""

    side: str
    cylinder: int | None
    datum: Datum

    @property
    def key(self) -> str:
        """The port in an address, as "intake-2-valve-seat"."""
        return f"{self.side}-{self.cylinder or 'any'}-{self.datum.value.replace(' ', '-')}"

    @property
    def order(self) -> tuple[bool, int, int]:
        """Its place among a head's ports: intake first, then by cylinder."""
        return self.side != "intake", self.cylinder or 0, list(Datum).index(self.datum)

    @property
    def words(self) -> str:
        """The port in words, as "Intake, cylinder 2, by valve seat"."""
        words = {
            "side": translated(self.side).capitalize(),
            "datum": translated(self.datum.value),
        }
        if self.cylinder:
            return gettext(
                "{side}, cylinder {cylinder}, by {datum}", **words, cylinder=self.cylinder
            )
        return gettext("{side}, by {datum}", **words)

    def has(self, row: BenchSession) -> bool:
        """True where a flow test is of this port."""
        return row.side == self.side and row.cylinder.strip() == str(self.cylinder or "")


def record(
    db: Session,
    by: Actor,
    visit: Visit,
    shared: Mapping[str, Any],
    rows: Sequence[Mapping[str, Any]],
    operation: Operation | None = None,
) -> list[Measurement]:
    """Record the sections of one port.

    `shared` has what they share, `rows` each section's `distance` and `area`, and of its shape what
    was measured: `width`, `height`, `perimeter`, `short_side_radius`. Raises ValidationError keyed
    as "side" or "rows-0-area", and keeps nothing then. The measurements of each section follow its
    area.
    """
    kinds = kinds_of_values(db)
    faults = faults_of(db, shared, rows)
    if faults:
        raise ValidationError(faults)
    return [
        measurements.record(
            db, by, visit, kind.id,
            {**shared, "distance": row["distance"], "value": row[name]}, operation,
        )
        for row in rows
        for name, kind in kinds.items()
        if is_given(row.get(name))
    ]  # fmt: skip


def ports(visit: Visit) -> list[Port]:
    """The ports of a head that have sections, intake first, then by cylinder."""
    distinct = {port for row in visit.measurements if (port := _port(row)) is not None}
    return sorted(distinct, key=lambda port: port.order)


def along_port(
    visit: Visit,
    port: Port,
    row: BenchSession | None = None,
    index: int = -1,
    usual: UsualUncertainties = NOTHING_STATED,
) -> documents.AlongPort:
    """A port's sections, with the flow of a bench session at the lift in this place.

    `usual` has the uncertainties by which port or valve is said to be the tighter.

    A test made before the sections after the work were taken went through the port as it was.
    """
    reduced = reduction(row) if row is not None else None
    surveys = _surveys(visit, port)
    valve = (
        sections.valve_areas(reduced.test.valve, reduced.points[index].lift) if reduced else None
    )
    return documents.AlongPort(
        side=port.side,
        cylinder=str(port.cylinder or ""),
        datum=port.datum.value,
        from_seat=port.datum is Datum.SEAT,
        surveys=tuple(
            _worked_out(when, survey, _shapes(visit, port, when), (reduced, index))
            for when, survey in surveys.items()
        ),
        stands=0 if row is not None and _was_before(row, surveys) else -1,
        session=test_names.session_name(row) if row is not None else "",
        reference_pressure=pretty_text(row.reference_pressure.text) if row is not None else "",
        lift=reduced.points[index].lift if reduced else None,
        flow=reduced.points[index].flow if reduced else None,
        curtain=valve.curtain if valve else None,
        least=valve.least if valve else None,
        throat=valve.throat if valve else None,
        outdated_by=_outdated_by(visit, row, surveys),
        tighter=_tighter(reduced, index, surveys, row, usual) if row and reduced else "",
    )


def _tighter(
    reduced: Reduction,
    index: int,
    surveys: Mapping[When, Mapping[float, Measurement]],
    row: BenchSession,
    usual: UsualUncertainties,
) -> str:
    """The tighter of port and valve at a lift, as `AlongPort.tighter` has it."""
    test = reduced.test
    if test.valve.seat is None or not surveys:
        return ""
    survey = list(surveys.values())[0 if _was_before(row, surveys) else -1]
    area = min(section.value.si for section in survey.values())
    section = Section(area, usual.standard(KIND, area))
    (limit,) = limits(Way(test.valve, usual.of_valve(test), (section,)), [test.lifts[index]])
    is_port = limit.tightest == SECTION
    others = {0, 1} if is_port else {SECTION}
    if others & set(limit.untested):
        return ""
    if others & set(limit.rivals):
        return "neither"
    return "port" if is_port else "valve"


def of_session(
    row: BenchSession, usual: UsualUncertainties = NOTHING_STATED
) -> documents.AlongPort | None:
    """The sections of the port a session tested, at its last lift; none where they are too few.

    Those from the valve seat are preferred, since the valve's areas have their place there.
    """
    for port in ports(row.job_head):
        if port.has(row):
            along = along_port(row.job_head, port, row, usual=usual)
            if len(along.surveys[along.stands].points) >= FEWEST_ON_PAPER:
                return along
    return None


def standing(row: BenchSession) -> list[Measurement]:
    """Sections of the port a flow test was made of, from its valve seat outwards, then those from
    its flange and those of its manifold: as the port was when it was tested."""
    rows: list[Measurement] = []
    for port in ports(row.job_head):
        if port.has(row):
            surveys = _surveys(row.job_head, port)
            stands = 0 if _was_before(row, surveys) else -1
            rows += list(surveys.values())[stands].values()
    return rows


def _port(row: Measurement, codes: Container[str] = (KIND,)) -> Port | None:
    """The port a figure is a section of; none where it is no section."""
    if row.kind.code not in codes or row.datum is None or not row.side or row.value.si <= 0.0:
        return None
    return Port(row.side, row.cylinder, row.datum)


def _surveys(visit: Visit, port: Port) -> dict[When, dict[float, Measurement]]:
    """Sections of a port before the work and after it, each where there are any."""
    return {when: survey for when in When if (survey := _survey(visit, port, when))}


def recorded_distances(visit: Visit, port: Port, when: When) -> frozenset[float]:
    """Distances along a port at which a section is on record, m, to the nanometer."""
    return frozenset(_survey(visit, port, when))


def _survey(visit: Visit, port: Port, when: When, code: str = KIND) -> dict[float, Measurement]:
    """A kind's measurements along a port by distance; of one measured again the latest."""
    rows = [row for row in visit.measurements if row.when is when and _port(row, (code,)) == port]
    rows.sort(key=lambda row: (row.at, row.id))
    # To the nanometre, so that one inch and 25.4 mm are one place.
    by_distance = {round(row.distance.si, 9): row for row in rows if row.distance}
    return dict(sorted(by_distance.items()))


def outdated_by(row: BenchSession) -> str:
    """The step that cut metal between the sections of a test's port and the test; empty where none
    did."""
    visit = row.job_head
    surveys = [_surveys(visit, port) for port in ports(visit) if port.has(row)]
    return next(filter(None, (_outdated_by(visit, row, every) for every in surveys)), "")


def _outdated_by(
    visit: Visit, row: BenchSession | None, surveys: Mapping[When, Mapping[float, Measurement]]
) -> str:
    """The step that cut metal between the sections shown and a test; empty where none did."""
    if row is None or row.job_head is not visit or not surveys:
        return ""
    visible = list(surveys.values())[0 if _was_before(row, surveys) else -1]
    cut = cut_between(visit, max(section.at for section in visible.values()), row)
    return cut.kind.name if cut is not None else ""


def _was_before(row: BenchSession, surveys: Mapping[When, Mapping[float, Measurement]]) -> bool:
    """True where a test went through the port as it was before the work, and that is known."""
    if When.BEFORE not in surveys:
        return False
    tested = row.measured_at or row.entered_at
    later = [section.at for section in surveys.get(When.AFTER, {}).values()]
    return row.after_operation is None or any(tested < at for at in later)


def _shapes(visit: Visit, port: Port, when: When) -> dict[float, dict[str, Any]]:
    """Measurements beside the areas along a port, by distance and field."""
    shapes: dict[float, dict[str, Any]] = {}
    for name, code in SHAPE.items():
        for distance, row in _survey(visit, port, when, code).items():
            shapes.setdefault(distance, {})[name] = row.value.si
    return shapes


def _worked_out(
    when: When,
    survey: Mapping[float, Measurement],
    shapes: Mapping[float, Mapping[str, Any]],
    flow: tuple[Reduction | None, int],
) -> documents.PortSurvey:
    """The figures at each section."""
    distances, areas = list(survey), [row.value.si for row in survey.values()]
    points = [
        replace(point, **shapes.get(point.distance, {}))
        for point in _points(distances, areas, *flow)
    ]
    return documents.PortSurvey(
        when=when.value,
        points=tuple(points),
        volume=sections.port_volume(distances, areas) if len(areas) > 1 else None,
        mean_area=sections.mean_area(distances, areas),
    )


def _points(
    distances: Sequence[float], areas: Sequence[float], reduced: Reduction | None, index: int
) -> Iterator[documents.SectionPoint]:
    tightest = min(areas)
    if reduced is None:
        for distance, area in zip(distances, areas, strict=True):
            yield documents.SectionPoint(distance, area, area / tightest, None, None, None)
        return
    point, test = reduced.points[index], reduced.test
    throat = sections.valve_areas(test.valve, point.lift).throat
    flow = sections.flow_along(
        areas, point.flow, reduced.air_density, upstream_pressure(reduced), test.temperature
    )
    for number, area in enumerate(areas):
        choked = bool(flow.choked[number])
        yield documents.SectionPoint(
            distance=distances[number],
            area=area,
            over_tightest=area / tightest,
            over_throat=area / throat if throat else None,
            velocity=float(flow.velocity[number]),
            mach=None if choked else float(flow.mach[number]),
            choked=choked,
        )


def passed(row: BenchSession, index: int) -> Passed:
    """The flow of a test at the lift in this place, as it passes the sections of its port."""
    reduced = reduction(row)
    return Passed(
        flow=float(reduced.flow[index]),
        density=reduced.air_density,
        pressure=upstream_pressure(reduced),
        temperature=reduced.test.temperature,
    )


def upstream_pressure(reduced: Reduction) -> float:
    """Stagnation pressure the flow comes from, at the pressure flows are stated at, Pa."""
    test = reduced.test
    blown = test.reference_pressure if test.side == "exhaust" else 0.0
    return test.barometer + blown
