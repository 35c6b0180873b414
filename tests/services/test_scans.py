"""Scans of ports: kept with their head, planned against what is on record, saved as typed."""

from __future__ import annotations

import math
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
import trimesh
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, ValidationError
from shopflow.files import FileStore
from shopflow.files.scans import Scan
from shopflow.models import Datum, JobFile, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import center_lines, port_surveys, scan_plans, scans, sections
from shopflow.services.registry.attachments import Upload
from shopflow.units import SI, US_CUSTOMARY
from tests import factories, meshes
from tests.optional import present
from tests.services.expecting import faults_at, log_of

BEND, RADIUS = 50.0, 17.0
LINE = center_lines.written(meshes.arc(BEND).tolist())
VALUES: dict[str, Any] = {
    "side": "intake", "cylinder": "2", "when": "after", "datum": "valve seat", "unit": "mm",
    "center_line": LINE, "first": "5 mm", "step": "20 mm",
}  # fmt: skip
TORUS = Scan(*meshes.torus(BEND, RADIUS))
PORT = port_surveys.Port("intake", 2, Datum.SEAT)


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return FileStore(tmp_path / "files")


def scan_of(
    db: Session, by: Actor, visit: Visit, store: FileStore, name: str = "port.stl"
) -> JobFile:
    """The quarter torus as a scan of a head."""
    mesh = trimesh.Trimesh(TORUS.vertices, TORUS.faces, process=False)
    content = mesh.export(file_type="stl")
    assert isinstance(content, bytes)
    return scans.keep(db, by, visit, scans.stage(store, Upload(name, content)))


def test_a_scan_is_kept_with_its_head_once(db: Session, by: Actor, store: FileStore):
    visit, other = factories.create_visit(db), factories.create_visit(db)
    row = scan_of(db, by, visit, store)
    assert (row.media_type, row.job_head, row.shown_to_customer) == ("model/stl", visit, False)
    assert [entry.verb for entry in log_of(db, row)] == ["added"]
    assert scan_of(db, by, visit, store, "again.stl") is row
    assert scans.of_visit(db, visit) == [row]
    assert scans.get(db, visit, row.id) is row
    for owner, file_id in ((other, row.id), (visit, row.id + 99)):
        with pytest.raises(NotFoundError):
            scans.get(db, owner, file_id)
    assert len(scans.load(store, row).faces) == len(TORUS.faces)


def test_a_broken_scan_is_refused_before_it_is_stored(store: FileStore):
    for upload in (None, Upload("note.stl", b"no scan")):
        with faults_at("scan"):
            scans.stage(store, upload)
    assert list(store.paths()) == []


@pytest.mark.source("Quarter torus in closed form: pi r^2, 2 pi r, 2r and R - r")
def test_sections_of_a_scan_are_recorded_as_if_typed(db: Session, by: Actor, store: FileStore):
    visit = factories.create_visit(db)
    row = scan_of(db, by, visit, store)
    planned = scan_plans.plan(db, visit, scans.load(store, row), VALUES, SI)
    assert planned.length == pytest.approx(math.pi / 2 * 0.050, rel=1e-4)
    assert visit.measurements == []
    scan_plans.save(db, by, visit, row, planned)
    db.flush()
    db.expire_all()
    (survey,) = sections.along_port(visit, PORT).surveys
    assert [round(1e3 * point.distance, 6) for point in survey.points] == [5.0, 25.0, 45.0, 65.0]
    for point in survey.points:
        assert point.area == pytest.approx(math.pi * 17e-3**2, rel=1.5e-3)
        assert point.perimeter == pytest.approx(2 * math.pi * 17e-3, rel=1e-3)
        assert (point.width, point.height) == pytest.approx((34e-3, 34e-3), rel=1e-3)
        assert point.short_side_radius == pytest.approx(33e-3, rel=0.015)
        assert present(point.form.roundness) <= 1.0
    texts = {(row.kind.code, row.notes) for row in visit.measurements}
    assert ("short-side radius", "From scan port.stl") in texts
    assert {str(row.value.text).split()[-1] for row in visit.measurements} == {"mm", "mm2"}


def test_sections_on_record_stay_and_are_told(db: Session, by: Actor, store: FileStore):
    visit = factories.create_visit(db)
    row = scan_of(db, by, visit, store)
    shared = {"side": "intake", "cylinder": "2", "when": "after"}
    sections.record(db, by, visit, shared, [{"distance": "2.5 cm", "area": "900 mm2"}])
    later = Actor(None, by.at + timedelta(hours=1))
    planned = scan_plans.plan(db, visit, TORUS, VALUES, SI)
    assert [section.is_on_record for section in planned.sections] == [False, True, False, False]
    scan_plans.save(db, later, visit, row, planned)
    (survey,) = sections.along_port(visit, PORT).surveys
    assert [round(1e6 * point.area, -1) for point in survey.points] == [910, 900, 910, 910]
    again = scan_plans.plan(db, visit, TORUS, VALUES, SI)
    with faults_at("first"):
        scan_plans.save(db, later, visit, row, again)
    other = scan_plans.plan(db, visit, TORUS, {**VALUES, "when": "before"}, SI)
    assert len(other.rows) == 4


@pytest.mark.parametrize(
    ("change", "field", "words"),
    [
        ({"unit": "ft"}, "unit", "."),
        ({"unit": "in"}, "unit", r"in in the scan is 1\.7 m across"),
        ({"side": ""}, "side", "choose the side"),
        ({"step": "0 mm"}, "step", "more than 0"),
        ({"step": "1 mm"}, "step", "gives 74 sections, and at most 40"),
        ({"first": "90 mm"}, "first", "beyond the center line, which is 78.5"),
        ({"center_line": ""}, "center_line", "too few points"),
        ({"center_line": "0 0 0"}, "center_line", "too few points"),
        ({"center_line": "0 0 0\n1 2"}, "center_line", "line 2, '1 2', is not a point"),
        ({"center_line": "0 0 0\n1 2 nan"}, "center_line", "is not a point"),
        ({"center_line": "0 0 0\n\n0,0;0\n1 1 1"}, "center_line", "points 1 and 2 are the same"),
        ({"center_line": "0 0 1\n" * 61}, "center_line", "at most 60"),
        ({"center_line": "0 0 500\n0 90 500"}, "center_line", "meets a closed outline"),
    ],
)
def test_faults_are_said_at_their_field(
    db: Session, change: dict[str, str], field: str, words: str
):
    visit = factories.create_visit(db)
    with pytest.raises(ValidationError, match=words) as caught:
        scan_plans.plan(db, visit, TORUS, {**VALUES, **change}, SI)
    assert [fault.key for fault in caught.value.faults] == [field]


def test_a_scan_of_no_port_s_size_is_told_by_its_unit(db: Session):
    visit = factories.create_visit(db)
    large = Scan(1e3 * TORUS.vertices, TORUS.faces)
    with faults_at("unit"):
        scan_plans.plan(db, visit, large, VALUES, SI)


def test_sections_that_no_port_has_are_told_by_their_unit(db: Session):
    visit = factories.create_visit(db)
    small = Scan(0.1 * TORUS.vertices, TORUS.faces)
    line = center_lines.written((0.1 * meshes.arc(BEND)).tolist())
    given = {**VALUES, "center_line": line, "first": "1 mm", "step": "2 mm"}
    with pytest.raises(ValidationError, match=r"at 1\.00 mm: .* not a plausible port area"):
        scan_plans.plan(db, visit, small, given, SI)


def test_planes_beyond_the_surface_are_told_and_left_out(db: Session):
    visit = factories.create_visit(db)
    longer = center_lines.written([[50, -20, 0], *meshes.arc(BEND).tolist()])
    planned = scan_plans.plan(db, visit, TORUS, {**VALUES, "center_line": longer}, US_CUSTOMARY)
    assert planned.sections[0].section is None
    assert all(section.is_new for section in planned.sections[1:])
    assert planned.rows[0]["area"].endswith(" in2")
    assert len(planned.along.surveys[0].points) == len(planned.rows)


def test_a_center_line_is_proposed_reversed_and_never_replaced_unasked():
    proposed = center_lines.propose(TORUS, "")
    points = center_lines.read_points(proposed)
    assert all(math.hypot(x, y) == pytest.approx(BEND, rel=2e-3) for x, y, _ in points)
    assert center_lines.read_points(center_lines.reverse(proposed)) == points[::-1]
    with faults_at("center_line"):
        center_lines.propose(TORUS, proposed)
    onward = center_lines.propose(TORUS, "50 1 0\n50 2 0")
    assert center_lines.read_points(onward)[0] == (50.0, 1.0, 0.0)
    for typed in ("500 1 0\n500 2 0", "50 1 0"):
        with faults_at("center_line"):
            center_lines.propose(TORUS, typed)
    closed = Scan(*meshes.torus(BEND, RADIUS, 24, 24, has_ends=True))
    with faults_at("center_line"):
        center_lines.propose(closed, "")
