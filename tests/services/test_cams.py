"""Cams as saved: lossless, of one owner, archived and offered again; on both databases."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.exc import IntegrityError

from shopflow import camfile
from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.models import Cam
from shopflow.resources import SEED_DATA
from shopflow.services import audit_log
from shopflow.services.engine import cam_entry, cams
from tests import factories
from tests.factories import BY
from tests.unit.camfile.documents import CAM

SEEDS = sorted((SEED_DATA / "cams").iterdir())
TYPED: dict[str, Any] = {
    "name": "Fast road",
    "bore": "86.4 mm",
    "stroke": "3.40 in",
    "speed": "6500",
    "intake": {
        "centreline": "108",
        "lobe": "deg, mm\n-120, 0\n-60, 4.50\n0, 9.00\n60, 4.5\n120, 0.0\n",
        "lift_unit": "mm",
        "lash": "0.25 mm",
    },
    "exhaust": {"lift_unit": "mm"},
}


@pytest.mark.parametrize("path", SEEDS, ids=lambda path: path.stem)
def test_a_file_comes_back_as_it_went_in(db, path):
    text = path.read_text(encoding="utf-8")
    row = factories.create_cam(db, text=text)
    db.expire_all()
    assert cams.document(row) == camfile.loads(text)
    assert camfile.loads(camfile.dumps(cams.document(row))) == camfile.loads(text)


def test_digits_are_kept_as_typed(db):
    row = factories.create_cam(db)
    db.expire_all()
    assert row.exhaust_lifts[1:3] == ["0.010", "0.070"]
    assert row.exhaust_centreline is not None
    assert (str(row.compression_ratio), row.exhaust_centreline.text) == ("10.50", "112.50 deg")


def test_a_head_is_shown_through_its_job_s_cams_and_then_its_engine_s(db):
    visit = factories.create_visit(db)
    of_engine = factories.create_cam(db, visit.head.engine_type)
    of_job = factories.create_cam(db, visit.job)
    gone = factories.create_cam(db, visit.job)
    factories.create_cam(db)
    cams.archive(db, BY, gone)
    assert cams.for_visit(db, visit) == [of_job, of_engine]
    assert cams.of_owner(db, visit.job) == [of_job, gone]


def test_archiving_is_undone_and_neither_is_done_twice(db):
    row = factories.create_cam(db)
    with pytest.raises(RuleError, match="not archived"):
        cams.restore(db, BY, row)
    cams.archive(db, BY, row)
    with pytest.raises(RuleError, match="archived already"):
        cams.archive(db, BY, row)
    cams.restore(db, BY, row)
    assert row.archived_at is None
    verbs = [event.verb for event in audit_log.of_record(db, row)]
    assert verbs == ["restored", "archived", "added"]


def test_a_change_is_logged_from_what_to_what(db):
    row = factories.create_cam(db)
    changed = CAM.replace('"0.010 in"', '"0.012 in"').partition("[exhaust]")
    cams.change(db, BY, row, camfile.loads("".join(changed)))
    assert audit_log.of_record(db, row)[0].changes == {"exhaust_lash": ["0.010 in", "0.012 in"]}
    cams.change(db, BY, row, camfile.loads(changed[0]))
    db.expire_all()
    assert cams.document(row).exhaust is None
    assert (row.exhaust_lash, row.exhaust_lifts) == (None, [])


def test_an_unknown_cam_is_not_found(db):
    with pytest.raises(NotFoundError, match="does not exist"):
        cams.get(db, 4711)


def test_a_cam_is_of_one_owner(db):
    row = factories.create_cam(db)
    row.job = factories.create_job(db)
    with pytest.raises(IntegrityError):
        db.flush()
    db.rollback()
    assert db.query(Cam).count() == 0


def test_numbers_too_long_to_be_kept_are_refused_at_their_key(db):
    long = CAM.replace("0.070", f"0.07{'0' * 60}").replace("10.50", f"10.5{'0' * 60}")
    with pytest.raises(ValidationError) as refused:
        factories.create_cam(db, text=long)
    keys = [fault.key for fault in refused.value.faults]
    assert keys == ["engine.compression_ratio", "exhaust.lobe_lift"]


def test_a_file_without_a_title_has_a_name_all_the_same(db):
    assert factories.create_cam(db, text=CAM.replace('"Fast road"', '""')).name == cams.UNNAMED


def test_what_is_known_of_the_engine_is_filled_in(db):
    job = factories.create_job(db, rev_limit_rpm="7200")
    engine = cams.engine_of(job)
    assert (engine["speed"], engine["bore"].text, engine["stroke"].text) == (
        "7200 rpm", "80.5 mm", "88 mm",
    )  # fmt: skip


def test_a_cam_typed_is_the_cam_of_a_file():
    cam = cam_entry.read(TYPED)
    assert cam.intake.angles == tuple(map(Decimal, (-120, -60, 0, 60, 120)))
    assert [str(lift) for lift in cam.intake.lifts] == ["0", "4.50", "9.00", "4.5", "0.0"]
    assert (cam.speed.text, cam.intake.centreline.text) == ("6500 rpm", "108 deg")
    assert cam.exhaust is None


@pytest.mark.parametrize(
    "table",
    ["-10 0\n0 1.5\n10 0", "-10,0\n0,1.5\n10,0", "-10;0\n0;1,5\n10;0", "-10\t0\n0\t1.5\n10\t0",
     "angle lift\n\n-10  0 \n 0 1.5\n10 0\n"],
    ids=["spaces", "commas", "semicolons", "tabs", "a heading and blanks"],
)  # fmt: skip
def test_a_table_is_read_however_it_is_pasted(table):
    answer = cam_entry.read_table(table)
    assert answer.angles == (-10, 0, 10)
    assert answer.lifts == (0, Decimal("1.5"), 0)


@pytest.mark.parametrize(
    ("change", "key", "says"),
    [
        ({"name": ""}, "name", "required"),
        ({"bore": "86.4"}, "bore", "unit is missing"),
        ({"stroke": ""}, "stroke", "required: enter a value"),
        ({"speed": "fast"}, "speed", "not a number"),
        ({"compression_ratio": "0.9"}, "compression_ratio", "not above 1"),
        ({"intake": {"centreline": ""}}, "intake.centreline", "required"),
        ({"intake": {"lobe": "1 2 3"}}, "intake.lobe", "line 1: enter an angle and a lift"),
        ({"intake": {"lobe": "-10 0\n0 high\n10 0"}}, "intake.lobe", "row 2: 'high'"),
        ({"intake": {"lobe": "lift"}}, "intake.lobe", "enter an angle and a lift a line"),
        ({"intake": {"lobe": ""}}, "intake.lobe", "missing; give"),
        ({"intake": {"rocker_ratio": "one"}}, "intake.rocker_ratio", "'one'"),
        ({"intake": {"lash": "20 mm"}}, "intake.lash", "leaves no valve lift"),
        ({"exhaust": {"duration": "280"}}, "exhaust.centreline", "required"),
    ],
)
def test_each_fault_is_said_at_its_field(change, key, says):
    values = {
        **TYPED,
        **{
            name: {**TYPED[name], **value} if isinstance(value, dict) else value
            for name, value in change.items()
        },
    }
    with pytest.raises(ValidationError) as refused:
        cam_entry.read(values)
    faults = {fault.key: fault.message for fault in refused.value.faults}
    assert says in faults[key]
