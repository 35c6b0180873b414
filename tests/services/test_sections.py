"""Sections along a port: kept a row at a time, and the flow through them."""

from __future__ import annotations

import dataclasses
import math
from datetime import timedelta

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import papers, testfile
from shopflow.calc.flowtest import Side
from shopflow.errors import ValidationError
from shopflow.models import BenchSession, Datum, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import port_surveys, section_checks, section_tables, sections
from shopflow.services.bench.sessions import reduction
from shopflow.services.certificates import drafts
from shopflow.services.counter import inspection_reports
from shopflow.services.hand_off import mach_index
from shopflow.services.measuring import measurements
from shopflow.services.routing import work_orders
from shopflow.units import SI
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.optional import present
from tests.services.expecting import faults_at
from tests.unit.camfile.documents import CAM

ROWS = [
    {"distance": "60 mm", "area": "1290 mm2"},
    {"distance": "12 mm", "area": "1338 mm2"},
    {"distance": "25 mm", "area": "1246 mm2"},
]
PORT = port_surveys.Port("intake", 2, Datum.SEAT)


def write(
    db: Session, by: Actor, visit: Visit, rows: list[dict[str, str]] = ROWS, **place: str
) -> None:
    """Sections of the intake of cylinder 2."""
    shared = {"side": "intake", "cylinder": "2", "when": "after", **place}
    sections.record(db, by, visit, shared, rows)
    db.flush()


def flow_test(db: Session, visit: Visit, side: Side = "intake") -> BenchSession:
    """A flow test of that port, at rest in the head's history."""
    document = dataclasses.replace(testfile.loads(INTAKE_US), cylinder="2", side=side)
    return factories.create_session(db, visit, testfile.dumps(document))


def test_a_row_is_kept_as_typed_and_comes_back_by_distance(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit)
    db.expire_all()
    assert {(str(row.distance), str(row.value)) for row in visit.measurements} == {
        (row["distance"], row["area"]) for row in ROWS
    }
    assert visit.measurements[0].where == "cylinder 2 intake, 60 mm from the valve seat"
    assert port_surveys.ports(visit) == [PORT]
    (survey,) = sections.along_port(visit, PORT).surveys
    assert [point.distance for point in survey.points] == pytest.approx([0.012, 0.025, 0.060])
    assert survey.tightest.area == pytest.approx(1246e-6)
    # By hand, frusta: 13/3 (1338 + 1246 + sqrt(1338 x 1246)) + 35/3 (1246 + 1290 + sqrt(...)).
    first = 13 / 3 * (1338 + 1246 + (1338 * 1246) ** 0.5)
    second = 35 / 3 * (1246 + 1290 + (1246 * 1290) ** 0.5)
    assert survey.volume == pytest.approx((first + second) * 1e-9, rel=1e-9)
    assert survey.mean_area == pytest.approx((first + second) / 48 * 1e-6, rel=1e-9)
    assert survey.points[0].velocity is None


def test_faults_are_told_together_and_nothing_is_kept(db: Session, by: Actor):
    visit = factories.create_visit(db)
    rows = [{"distance": "a", "area": "10 mm2"}, {"distance": "1 mm"}, {"area": "0 mm2"}]
    with faults_at(
        "cylinder", "side", "rows-0-distance", "rows-1-area", "rows-2-distance", "rows-2-area"
    ):
        sections.record(db, by, visit, {"side": "", "cylinder": "0", "when": "after"}, rows)
    with faults_at("rows-1-distance"):
        write(db, by, visit, [ROWS[0], {"distance": "6 cm", "area": "9 cm2"}])
    with faults_at("rows-0-distance"):
        write(db, by, visit, [])
    assert visit.measurements == []


def test_a_section_measured_again_counts_as_it_was_last(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit)
    later = Actor(None, by.at + timedelta(hours=1))
    write(db, later, visit, [{"distance": "2.5 cm", "area": "1280 mm2"}])
    (survey,) = sections.along_port(visit, PORT).surveys
    assert [round(point.area * 1e6) for point in survey.points] == [1338, 1280, 1290]


def test_another_datum_side_or_cylinder_is_another_port(db: Session, by: Actor):
    visit = factories.create_visit(db)
    for place in ({}, {"datum": "port flange"}, {"side": "exhaust"}, {"cylinder": "1"}):
        write(db, by, visit, ROWS[:1], **place)
    rows = [(port.side, port.cylinder, port.datum.value) for port in port_surveys.ports(visit)]
    assert rows == [
        ("intake", 1, "valve seat"),
        ("intake", 2, "valve seat"),
        ("intake", 2, "port flange"),
        ("exhaust", 2, "valve seat"),
    ]


def test_an_area_without_a_distance_is_no_section(db: Session, by: Actor):
    visit = factories.create_visit(db)
    kind = measurements.kind_by_code(db, section_checks.KIND).id
    values = {
        "side": "intake",
        "value": "1200 mm2",
        "place": "pushrod pinch",
        "datum": "valve seat",
    }
    row = measurements.record(db, by, visit, kind, values)
    assert (row.distance, row.datum) == (None, None)
    assert port_surveys.ports(visit) == []


def test_a_corrected_distance_takes_its_datum_along(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit, ROWS[:1])
    row = visit.measurements[0]
    measurements.correct(db, by, row, {"distance": "61 mm", "datum": "port flange"})
    assert row.where == "cylinder 2 intake, 61 mm from the port flange"
    measurements.correct(db, by, row, {"datum": "valve seat"})
    assert row.where == "cylinder 2 intake, 61 mm from the valve seat"
    measurements.correct(db, by, row, {"distance": ""})
    assert (row.distance, row.datum) == (None, None)


def test_velocity_is_flow_over_area_and_ratios_are_to_the_throat(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit)
    row = flow_test(db, visit)
    answer = sections.along_port(visit, PORT, row, 2)
    flow = reduction(row).points[2].flow
    point = answer.surveys[0].points[1]
    assert point.velocity == pytest.approx(flow / 1246e-6)
    assert point.over_tightest == 1.0
    assert answer.flow == flow
    # At this speed the Mach number is that of the velocity within 5 % (Mach 0.3: 4.5 %).
    velocity, mach = present(point.velocity), present(point.mach)
    assert mach == pytest.approx(velocity / 343.0, rel=0.06)
    assert mach > velocity / 345.0
    assert answer.throat is not None
    assert point.over_throat == pytest.approx(1246e-6 / answer.throat)


def test_a_section_too_small_for_the_flow_is_choked(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit, [{"distance": "25 mm", "area": "20 mm2"}])
    point = sections.along_port(visit, PORT, flow_test(db, visit)).surveys[0].points[0]
    assert (point.choked, point.mach) == (True, None)


def test_blown_out_the_air_comes_from_above_room_pressure(db: Session, by: Actor):
    visit = factories.create_visit(db)
    row = flow_test(db, visit, side="exhaust")
    answer = reduction(row)
    drawn = dataclasses.replace(answer, test=dataclasses.replace(answer.test, side="intake"))
    rise = sections.upstream_pressure(answer) - sections.upstream_pressure(drawn)
    assert rise == pytest.approx(row.reference_pressure.si)


def test_a_test_stands_for_the_port_as_it_was_when_it_was_made(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit, when="before")
    received = flow_test(db, visit)
    assert sections.along_port(visit, PORT, received).stands == 0
    write(db, Actor(None, by.at + timedelta(days=1)), visit)
    assert [s.when for s in sections.along_port(visit, PORT, received).surveys] == [
        "before",
        "after",
    ]
    assert sections.along_port(visit, PORT, received).stands == 0
    assert sections.along_port(visit, PORT).stands == -1


def test_a_certificate_carries_the_port_of_its_session(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    row = flow_test(db, visit)
    draft = drafts.write(db, machinist, visit, [row])
    bare = drafts.stated(db, draft)
    assert bare.sessions[0].along_port is None
    write(db, machinist, visit, ROWS[:1])
    assert sections.of_session(row) is None
    write(db, machinist, visit)
    port = drafts.stated(db, draft).sessions[0].along_port
    assert port is not None
    assert (port.side, port.cylinder, port.lift) == ("intake", "2", reduction(row).points[-1].lift)


def test_the_inlet_mach_index_is_that_of_the_sum(db: Session, by: Actor):
    visit = factories.create_visit(db, rev_limit_rpm="6000")
    row = flow_test(db, visit)
    figures, missing = mach_index.mach_index_of(db, visit, row)
    values = {figure.name: figure.value for figure in figures}
    assert missing == []
    # By hand: bore 80.5, stroke 88 mm, 6000 rpm: S = 17.6 m/s; Z = (b/D)^2 S/(C a).
    assert values["Mean piston speed"] == "17.6 m/s"
    sound = float(values["Speed of sound"].split()[0])
    coefficient = float(values["Coefficient on head area"])
    by_hand = (0.0805 / row.head_diameter.si) ** 2 * 17.6 / (coefficient * sound)
    assert float(values["Mean inlet Mach index"]) == pytest.approx(by_hand, abs=0.015)


def test_the_index_goes_by_the_cam_where_one_is_known(db: Session, by: Actor):
    """By hand: S = 17.6 m/s over a = sqrt(1.4 x 287.05 x 298.15), times the areas' ratio."""
    visit = factories.create_visit(db, rev_limit_rpm="6000")
    row, cam = flow_test(db, visit), factories.create_cam(db, visit.job)
    figures, missing = mach_index.mach_index_of(db, visit, row, cam)
    values = {figure.name: figure for figure in figures}
    assert missing == []
    area = 1e-6 * float(values["Mean effective area"].value.split()[0])
    assert "Fast road" in values["Mean effective area"].working
    sound = (1.4 * 287.05 * 298.15) ** 0.5
    by_hand = 17.6 / sound * math.pi / 4 * 0.0805**2 / area
    low, high = (float(end) for end in values["Mean inlet Mach index"].value.split(" to "))
    assert low - 0.006 < by_hand < high + 0.006
    assert high - low < 0.05
    slow, fast = (
        float(end) for end in values["Speed where filling falls"].value[:-4].split(" to ")
    )
    assert slow <= 6000.0 * 0.5 / by_hand * 1.02
    assert fast >= 6000.0 * 0.6 / by_hand * 0.95
    assert "JSME" in values["Mean inlet Mach index"].working
    without = mach_index.mach_index_of(db, visit, row)[0]
    assert "no cam is known" in without[0].working


def test_lifts_of_the_cam_beyond_the_test_are_said_with_the_index(db: Session, by: Actor):
    visit = factories.create_visit(db, rev_limit_rpm="6000")
    high = CAM.replace("9.00 mm", "16 mm")
    index = mach_index.mach_index_of(
        db, visit, flow_test(db, visit), factories.create_cam(db, visit.job, high)
    )
    assert "% of the time is above the last lift tested" in index[0][0].working


def test_what_the_index_lacks_is_named(db: Session, by: Actor):
    engine = factories.create_engine_type(db, bore="")
    visit = factories.create_visit(db, engine_type=engine)
    figures, missing = mach_index.mach_index_of(db, visit, flow_test(db, visit))
    assert figures == []
    assert missing == ["the engine type's bore", "the job's rev limit"]


SHAPED = [
    {"distance": "12 mm", "area": "1338 mm2", "width": "44.6 mm", "height": "34.2 mm",
     "perimeter": "138.6 mm", "short_side_radius": "11 mm"},
    {"distance": "25 mm", "area": "1246 mm2", "width": "1.709 in", "height": ""},
]  # fmt: skip


def test_the_shape_of_a_section_is_kept_beside_its_area(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit, SHAPED)
    db.expire_all()
    rows = {(row.kind.code, str(row.distance)): str(row.value) for row in visit.measurements}
    assert rows["port width", "25 mm"] == "1.709 in"
    assert rows["short-side radius", "12 mm"] == "11 mm"
    assert len(rows) == 7
    (survey,) = sections.along_port(visit, PORT).surveys
    first, second = survey.points
    assert (first.width, first.height) == pytest.approx((0.0446, 0.0342))
    assert second.width == pytest.approx(0.0434086)
    assert second.height is None
    # By hand: 4 x 1338 / 138.6, 44.6 / 34.2, 4 pi 1338 / 138.6^2, 11 / 34.2.
    form = first.form
    assert form.hydraulic_diameter == pytest.approx(38.615e-3, rel=1e-4)
    assert form.aspect_ratio == pytest.approx(1.30409, rel=1e-5)
    assert form.roundness == pytest.approx(0.875267, rel=1e-5)
    assert form.bend_sharpness == pytest.approx(0.321637, rel=1e-5)
    assert second.form.aspect_ratio is None


def test_a_shape_that_cannot_hold_its_area_is_refused(db: Session, by: Actor):
    visit = factories.create_visit(db)
    # 100 mm enclose at most 795.8 mm2; 30 by 25 mm hold at most 750 mm2.
    rows = [
        {"distance": "1 mm", "area": "900 mm2", "perimeter": "100 mm"},
        {"distance": "2 mm", "area": "900 mm2", "width": "30 mm", "height": "25 mm"},
    ]
    with pytest.raises(ValidationError, match=r"at most 795\.8 mm2"):
        write(db, by, visit, rows)
    with faults_at("rows-0-perimeter", "rows-1-width"):
        write(db, by, visit, rows)
    with faults_at("rows-0-area", "rows-0-width", "rows-0-short_side_radius"):
        write(
            db, by, visit,
            [{"distance": "1 mm", "width": "2 m", "short_side_radius": "-1 mm"}],
        )  # fmt: skip
    assert visit.measurements == []


def test_a_shape_without_its_area_is_no_section(db: Session, by: Actor):
    visit = factories.create_visit(db)
    kind = measurements.kind_by_code(db, "port width").id
    values = {"side": "intake", "cylinder": "2", "distance": "25 mm", "value": "40 mm"}
    measurements.record(db, by, visit, kind, values)
    assert port_surveys.ports(visit) == []
    write(db, by, visit, ROWS)
    (survey,) = sections.along_port(visit, PORT).surveys
    assert [point.width for point in survey.points] == [None, pytest.approx(0.04), None]


def test_papers_have_a_line_for_each_section(db: Session, by: Actor):
    visit = factories.create_visit(db)
    write(db, by, visit, SHAPED, when="before")
    write(db, by, visit, ROWS, side="exhaust")
    kind = measurements.kind_by_code(db, "port area").id
    place = {"side": "intake", "cylinder": "2", "when": "before", "distance": "40 mm"}
    limited = {**place, "value": "1250 mm2", "lower": "1200 mm2"}
    measurements.record(db, by, visit, kind, limited)
    db.flush()
    (sections_of_port,), rest = section_tables.tabled(visit.measurements, SI)
    assert sections_of_port.title == "Intake, cylinder 2, by valve seat, before the work"
    assert [name for name, _ in sections_of_port.table.columns] == [
        "Port area", "Port width", "Port height", "Port perimeter", "Short-side radius",
    ]  # fmt: skip
    first, second = sections_of_port.table.rows
    assert [cell and cell.value for cell in first.cells] == [
        "1338.0", "44.60", "34.20", "138.60", "11.00",
    ]  # fmt: skip
    assert (second.label, second.cells[2]) == ("25.00", None)
    # Areas alone, and what has limits, stay in the list.
    assert len(rest) == 4
    for paper in (
        papers.inspection_report(inspection_reports.inspection_report(db, visit.job)),
        papers.work_order(work_orders.work_order(db, visit.job)),
    ):
        with pymupdf.open(stream=paper) as pdf:
            assert any(sections_of_port.title in page.get_text() for page in pdf)
