"""Sections along a port: writing down a row of them, and what a flow does in them."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import replace
from typing import Any

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.calc import sections
from shopflow.calc.port_limit import limits
from shopflow.calc.port_way import Section, Way
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
from shopflow.services.bench import port_surveys, test_names
from shopflow.services.bench.port_surveys import Port
from shopflow.services.bench.section_checks import (
    KIND,
    faults_of,
    is_given,
    kinds_of_values,
)
from shopflow.services.bench.sessions import reduction
from shopflow.services.measuring import measurements
from shopflow.services.measuring.uncertainties import NOTHING_STATED, UsualUncertainties
from shopflow.units import pretty_text

SECTION = 2
"""Index of the section on a way with one: behind opening and throat."""

FEWEST_ON_PAPER = 2
"""Sections a certificate shows a port by: one alone is no run along it."""


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
    surveys = port_surveys.surveys_of(visit, port)
    valve = (
        sections.valve_areas(reduced.test.valve, reduced.points[index].lift) if reduced else None
    )
    return documents.AlongPort(
        side=port.side,
        cylinder=str(port.cylinder or ""),
        datum=port.datum.value,
        from_seat=port.datum is Datum.SEAT,
        surveys=tuple(
            _worked_out(when, survey, port_surveys.shapes_of(visit, port, when), (reduced, index))
            for when, survey in surveys.items()
        ),
        stands=0 if row is not None and port_surveys.was_before(row, surveys) else -1,
        session=test_names.session_name(row) if row is not None else "",
        reference_pressure=pretty_text(row.reference_pressure.text) if row is not None else "",
        lift=reduced.points[index].lift if reduced else None,
        flow=reduced.points[index].flow if reduced else None,
        curtain=valve.curtain if valve else None,
        least=valve.least if valve else None,
        throat=valve.throat if valve else None,
        outdated_by=port_surveys.step_between(visit, row, surveys),
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
    if not surveys:
        return ""
    survey = list(surveys.values())[0 if port_surveys.was_before(row, surveys) else -1]
    return port_or_valve(reduced, index, min(item.value.si for item in survey.values()), usual)


def port_or_valve(reduced: Reduction, index: int, area: float, usual: UsualUncertainties) -> str:
    """The tighter of a section of the port, m2, and the valve at a lift: "port", "valve",
    "neither"; empty where it is not known."""
    test = reduced.test
    if test.valve.seat is None:
        return ""
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
    for port in port_surveys.ports(row.job_head):
        if port.has(row):
            along = along_port(row.job_head, port, row, usual=usual)
            if len(along.surveys[along.stands].points) >= FEWEST_ON_PAPER:
                return along
    return None


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
