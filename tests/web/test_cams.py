"""Cams: listed, typed, pasted, changed, archived, uploaded and downloaded."""

from __future__ import annotations

import io

import pytest

from shopflow import camfile
from shopflow.services.engine import cams
from tests import factories
from tests.unit.camfile.documents import CAM

PASTED = "angle;lift\n-120;0\n-60;4,50\n0;9,00\n60;4,50\n120;0"
TYPED = {
    "name": "Fast road",
    "speed": "6500",
    "intake-centreline": "108",
    "intake-lobe": PASTED,
    "intake-lift_unit": "mm",
}


def test_a_cam_is_typed_with_what_is_known_of_the_engine(client, db):
    engine_type = factories.create_engine_type(db)
    page = client.page(f"/engines/{engine_type.id}/cams")
    assert "No cams yet" in page.text
    page = client.page(page.links["Add cam"])
    assert (page.value("bore"), page.value("stroke")) == ("80.5 mm", "88 mm")
    page = client.submit(page, TYPED)
    assert page.heading == "Fast road"
    assert "Fast road is saved." in page.notices
    assert page.rows[-1][:3] == ["Intake", "−12.0°", "228.0°"]
    (row,) = cams.of_owner(db, engine_type)
    assert row.intake_lifts == ["0", "4.50", "9.00", "4.50", "0"]
    assert row.exhaust_centreline is None
    listed = client.page(f"/engines/{engine_type.id}/cams")
    assert listed.rows[0][:2] == ["Fast road", "measured, intake only"]


def test_a_job_s_own_cam_turns_at_its_rev_limit(client, db):
    job = factories.create_job(db, rev_limit_rpm="7200")
    page = client.page(client.page(f"/jobs/{job.number}/cams").links["Add cam"])
    assert page.value("speed") == "7200 rpm"
    stand_in = {"intake-duration": "280", "intake-max_lobe_lift": "9 mm", "intake-lobe": ""}
    page = client.submit(page, {**TYPED, **stand_in, "speed": "7200 rpm"})
    assert "stand-in" in page.rows[-1][0]
    assert "A stand-in lobe is greatest lift × sin²" in page.text
    (row,) = cams.of_owner(db, job)
    assert (row.job, row.engine_type) == (job, None)


def test_every_fault_is_said_at_its_field_and_nothing_typed_is_lost(client, db):
    engine_type = factories.create_engine_type(db)
    wrong = {
        "name": "", "bore": "86.4 kg", "speed": "", "intake-lobe": "0 0\n1 2 3",
        "intake-lash": "-1 mm", "exhaust-duration": "800",
    }  # fmt: skip
    page = client.submit(f"/engines/{engine_type.id}/cams/new", {**TYPED, **wrong}, status=422)
    assert page.fault("name") == "Required: enter a value"
    assert "unit of mass" in page.fault("bore")
    assert page.fault("speed") == "Required: enter a value"
    assert page.fault("intake-lobe") == "Line 2: enter an angle and a lift"
    assert "below 0" in page.fault("intake-lash")
    assert "outside 1 to 720 deg" in page.fault("exhaust-duration")
    assert page.fault("exhaust-centreline") == "Required: enter a value"
    assert page.value("intake-lobe") == "0 0\n1 2 3"
    assert cams.of_owner(db, engine_type) == []


@pytest.mark.parametrize(
    ("content", "lifts"),
    [
        (PASTED.encode(), ["0", "4.50", "9.00", "4.50", "0"]),
        (b"\xef\xbb\xbf" + PASTED.encode(), ["0", "4.50", "9.00", "4.50", "0"]),
        (b"angle \xb0,lift\r\n-120,0\r\n0,9.00\r\n120,0\r\n", ["0", "9.00", "0"]),
    ],
    ids=["semicolons", "with a byte order mark", "commas, degree sign of Windows"],
)
def test_a_measured_lobe_is_read_from_a_csv_file(client, db, content, lifts):
    engine_type = factories.create_engine_type(db)
    file = {"intake-table": (io.BytesIO(content), "lobe.csv")}
    page = client.page(f"/engines/{engine_type.id}/cams/new")
    page = client.submit(page, {**TYPED, "intake-lobe": "", **file})
    assert page.heading == "Fast road"
    (row,) = cams.of_owner(db, engine_type)
    assert row.intake_lifts == lifts


def test_a_fault_of_a_csv_file_stands_at_the_lobe_with_its_rows(client, db):
    engine_type = factories.create_engine_type(db)
    file = {"intake-table": (io.BytesIO(b"-120;0\n0;9;1\n120;0"), "lobe.csv")}
    page = client.page(f"/engines/{engine_type.id}/cams/new")
    page = client.submit(page, {**TYPED, **file}, status=422)
    assert page.fault("intake-lobe") == "Line 2: enter an angle and a lift"
    assert page.value("intake-lobe") == "-120;0\n0;9;1\n120;0"


def test_a_cam_is_changed_archived_and_restored(client, db):
    row = factories.create_cam(db)
    page = client.page(f"/cams/{row.id}/change")
    assert page.value("exhaust-lobe").splitlines()[1] == "-100 0.010"
    page = client.submit(page, {"name": "Faster", "exhaust-rocker_ratio": "1.60"})
    assert page.heading == "Faster"
    assert "1.60" in page.rows[-1]
    page = client.press(page, "Archive")
    assert "archived" in page.rows[0][0]
    page = client.page(f"/cams/{row.id}")
    assert "heads are not shown through it" in page.text
    assert "Faster is offered again." in client.press(page, "Restore").notices


def test_a_downloaded_file_uploads_as_the_same_cam(client, db):
    row, other = factories.create_cam(db), factories.create_engine_type(db)
    answer = client.get(f"/cams/{row.id}/file")
    assert answer.mimetype == "application/toml"
    assert f'filename="cam-{row.id}.toml"' in answer.headers["Content-Disposition"]
    page = client.page(f"/engines/{other.id}/cams")
    page = client.submit(page, {"file": (io.BytesIO(answer.data), "cam.toml")})
    assert page.heading == "Fast road"
    (copy,) = cams.of_owner(db, other)
    assert cams.document(copy) == cams.document(row) == camfile.loads(CAM)


@pytest.mark.parametrize(
    ("content", "says"),
    [
        (b"", "no file chosen|not TOML|missing"),
        (b"\xff\xfe", "not text in UTF-8"),
        (b"schema = 2", "engine.bore: missing"),
        (CAM.replace("[exhaust]", "[exhuast]").encode(), "exhuast: unknown key"),
        (CAM.replace("0.070", f"0.07{'0' * 60}").encode(), "exhaust.lobe_lift: too long"),
    ],
)
def test_a_file_that_is_no_cam_is_refused_at_the_field(client, db, content, says):
    engine_type = factories.create_engine_type(db)
    page = client.page(f"/engines/{engine_type.id}/cams")
    page = client.submit(page, {"file": (io.BytesIO(content), "x.toml")}, status=422)
    assert any(part.lower() in page.fault("file").lower() for part in says.split("|"))
    assert cams.of_owner(db, engine_type) == []


def test_no_file_chosen_is_said(client, db):
    page = client.page(f"/jobs/{factories.create_job(db).number}/cams")
    assert client.submit(page, {}, status=422).fault("file") == "No file chosen: choose one"


@pytest.mark.parametrize(
    "hostile",
    [
        {"name": "\x00"},
        {"notes": "x" * 30_000},
        {"speed": "9" * 400},
        {"bore": "1e300 m"},
        {"intake-lobe": "\x00 0\n0 1\n1 0"},
        {"intake-lobe": "-10 0\n0 nan\n10 0"},
        {"intake-lobe": "-1e400 0\n0 1\n1e400 0"},
        {"intake-lobe": "0 0\n1e-320 1\n2e-320 1\n10 0"},
        {"intake-lobe": "\n".join(f"{angle} 1" for angle in range(20_000))},
        {"intake-rocker_ratio": "1e999999999"},
        {"intake-duration": "1e308"},
        {"intake-max_lobe_lift": "1e300 m", "intake-duration": "280", "intake-lobe": ""},
    ],
    ids=str,
)
def test_whatever_is_typed_is_refused_in_words(client, db, hostile):
    engine_type = factories.create_engine_type(db)
    page = client.submit(f"/engines/{engine_type.id}/cams/new", {**TYPED, **hostile}, status=422)
    assert any(page.fault(name) for name in (*hostile, "intake-lobe"))
    assert cams.of_owner(db, engine_type) == []
