"""Limits of a port: sizes of its test, sections and manifold, and sizes changed on paper."""

from __future__ import annotations

import dataclasses
from math import hypot
from typing import Any

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import documents, testfile
from shopflow.calc.array_types import Against
from shopflow.models import BenchSession, Datum, MeasurementKind, Visit
from shopflow.papers.port import findings
from shopflow.services.actor import Actor
from shopflow.services.analysis import comparisons
from shopflow.services.bench import port_surveys, sections, sessions
from shopflow.services.engine import port_limit
from shopflow.services.measuring import kinds, uncertainties
from shopflow.units import SI, parse
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.optional import present
from tests.services.expecting import faults_at

STATED = {
    "valve head diameter": "0.05 mm",
    "stem diameter": "0.01 mm",
    "seat angle": "0.3 deg",
    "seat width": "0.1 mm",
    "throat diameter": "0.1 mm",
    "port area": "2 %",
}


def state(db: Session, by: Actor, **changed: str) -> None:
    """State how far the shop's measurements are off at most."""
    for code, uncertainty in {**STATED, **changed}.items():
        kind = db.scalars(select(MeasurementKind).filter_by(code=code)).one()
        kinds.change(db, by, kind, {"uncertainty": uncertainty})
    db.flush()


def flow_test(db: Session, visit: Visit, **values: str) -> BenchSession:
    """A flow test of the intake of cylinder 2 that states its seat."""
    document = dataclasses.replace(testfile.loads(INTAKE_US), cylinder="2")
    sizes: dict[str, Any] = {name: parse(text, "length") for name, text in values.items()}
    return factories.create_session(
        db, visit, testfile.dumps(dataclasses.replace(document, **sizes))
    )


def write(db: Session, by: Actor, visit: Visit, datum: Datum, *rows: tuple[int, int]) -> None:
    """Sections in mm and mm2."""
    shared = {"side": "intake", "cylinder": "2", "when": "after", "datum": datum.value}
    values = [{"distance": f"{at} mm", "area": f"{area} mm2"} for at, area in rows]
    sections.record(db, by, visit, shared, values)
    db.flush()


def test_sections_and_manifold_stand_on_the_way_in_order(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db)
    state(db, by)
    row = flow_test(db, visit)
    write(db, by, visit, Datum.MANIFOLD, (20, 700), (80, 720))
    write(db, by, visit, Datum.SEAT, (25, 1246))
    limit = port_limit.of_test(db, row)
    assert [place.name for place in limit.places] == [
        "Valve opening",
        "Throat",
        "Section 25 mm from the valve seat",
        "Manifold, 20 mm from its flange",
        "Manifold, 80 mm from its flange",
    ]
    assert not limit.way.unstated
    last = limit.limits[-1]
    # 2 % each: 700 and 720 differ by 2.8 %, root sum of squares 2.8 %.
    assert (last.tightest, last.rivals) == (3, (4,))
    assert present(limit.crossing).passage == 3
    assert limit.limits[0].is_shown


def test_the_area_of_the_test_stands_where_no_section_is_measured(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db)
    document = dataclasses.replace(
        testfile.loads(INTAKE_US),
        port_area=parse("1100 mm2", "area"),
        u_port_area=parse("7 mm2", "area"),
    )
    row = factories.create_session(db, visit, testfile.dumps(document))
    limit = port_limit.of_test(db, row)
    assert limit.places[2].name == "Port area of the test"
    assert limit.way.sections[0].standard == pytest.approx(7e-6)
    assert limit.unstated


def test_a_test_states_its_own_uncertainty_before_the_shops(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db)
    state(db, by)
    assert port_limit.of_test(db, flow_test(db, visit)).way.standard[
        "throat_diameter"
    ] == pytest.approx(0.05e-3)
    own = flow_test(db, visit, u_throat_diameter="0.2 mm")
    assert port_limit.of_test(db, own).way.standard["throat_diameter"] == pytest.approx(0.2e-3)


def test_what_is_typed_on_paper_changes_areas_and_nothing_on_record(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db, rev_limit_rpm="6500")
    state(db, by)
    row = flow_test(db, visit)
    write(db, by, visit, Datum.SEAT, (25, 900))
    factories.create_cam(db, visit.job)
    limit = port_limit.of_test(db, row)
    on_paper = port_limit.on_paper(db, limit, {"seat_angle": "39 deg"}, {0: "990 mm2"})
    assert on_paper.changes[0] > 0.0
    assert on_paper.changes[-1] == pytest.approx(0.1)
    assert [mean.over.split()[0] for mean in on_paper.means] == ["lift,", "the"]
    assert all(0.0 < mean.change < 0.12 for mean in on_paper.means)
    db.refresh(row)
    assert str(row.seat_angle) == str(testfile.loads(INTAKE_US).seat_angle)


@pytest.mark.parametrize(
    ("sizes", "areas", "field"),
    [
        ({"throat_diameter": "90 mm"}, {}, "throat_diameter"),
        ({"seat_angle": "95 deg"}, {}, "seat_angle"),
        ({"seat_width": "2 psi"}, {}, "seat_width"),
        ({"head_diameter": "0 mm"}, {}, "head_diameter"),
        ({}, {0: "-3 mm2"}, "areas-0"),
        ({}, {0: "wide"}, "areas-0"),
    ],
)
def test_sizes_that_cannot_be_are_refused_at_their_field(
    db: Session, by: Actor, sizes: dict[str, str], areas: dict[int, str], field: str
) -> None:
    visit = factories.create_visit(db)
    row = flow_test(db, visit)
    write(db, by, visit, Datum.SEAT, (25, 900))
    limit = port_limit.of_test(db, row)
    with faults_at(field):
        port_limit.on_paper(db, limit, sizes, areas)


@pytest.mark.parametrize(
    ("area", "tighter", "words"),
    [
        (700, "port", "The port is tighter than the valve"),
        (2400, "valve", "The valve is tighter than the port"),
    ],
)
def test_port_or_valve_is_called_tighter_where_sizes_are_known_that_well(
    db: Session, by: Actor, area: int, tighter: str, words: str
) -> None:
    visit = factories.create_visit(db)
    row = flow_test(db, visit)
    write(db, by, visit, Datum.SEAT, (25, area))
    (port,) = port_surveys.ports(visit)
    assert sections.along_port(visit, port, row).tighter == ""
    assert "neither is said to be tighter" in _words(sections.along_port(visit, port, row))
    state(db, by)
    along = sections.along_port(visit, port, row, usual=uncertainties.usual(db))
    assert along.tighter == tighter
    assert words in _words(along)


def test_a_port_as_wide_as_the_valve_is_called_neither(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db)
    state(db, by, **{"port area": "8 %"})
    row = flow_test(db, visit)
    last = port_limit.of_test(db, row).limits[-1]
    write(db, by, visit, Datum.SEAT, (25, round(last.area * 1.02e6)))
    (port,) = port_surveys.ports(visit)
    along = sections.along_port(visit, port, row, usual=uncertainties.usual(db))
    assert along.tighter == "neither"
    assert "No measurable difference between port and valve" in _words(along)


def _words(along: documents.AlongPort) -> str:
    return " ".join(findings(along, SI))


@pytest.mark.parametrize("typed", ["-1 %", "0 mm", "100 %", "3 psi", "some"])
def test_an_uncertainty_that_is_none_is_refused(db: Session, by: Actor, typed: str) -> None:
    factories.create_visit(db)
    state(db, by)
    kind = db.scalars(select(MeasurementKind).filter_by(code="throat diameter")).one()
    with faults_at("uncertainty"):
        kinds.change(db, by, kind, {"uncertainty": typed})


def test_the_opening_of_a_gain_has_the_uncertainty_the_shop_states(db: Session, by: Actor) -> None:
    visit = factories.create_visit(db)
    before = flow_test(db, visit)
    document = dataclasses.replace(
        testfile.loads(INTAKE_US), cylinder="2", throat_diameter=parse("37 mm", "length")
    )
    after = factories.create_session(db, visit, testfile.dumps(document))
    first, second = comparisons.members([before, after])

    def opening(usual: uncertainties.UsualUncertainties) -> float | None:
        sources = comparisons.difference(first, second, Against.LIFT, usual).sources
        return present(sources).points[-1].opening_uncertainty

    assert opening(uncertainties.NOTHING_STATED) is None
    state(db, by)
    # The throat alone differs: 2 x 0.1 mm of about 37, twice in the area, of two measurements.
    sizes = [sessions.reduction(row).test.valve.seat for row in (before, after)]
    parts = [
        2.0 * bore * 0.1e-3 / (bore**2 - stem**2)
        for bore, stem in (
            (seat.throat_diameter, seat.stem_diameter) for seat in map(present, sizes)
        )
    ]
    # Both tests read the same flow, so that opening and shape are logarithms as they are.
    assert present(opening(uncertainties.usual(db))) == pytest.approx(hypot(*parts), rel=1e-3)
