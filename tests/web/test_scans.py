"""Scans of ports in the browser: added, cut, previewed, and saved only as previewed."""

from __future__ import annotations

import io

import pytest

from shopflow.models import Role
from shopflow.services.bench import port_surveys, sections
from tests import meshes
from tests.factories import BY, create_visit
from tests.web.client import Client, Page

CUT = {
    "side": "intake", "cylinder": "2", "when": "after", "unit": "mm", "datum": "valve seat",
    "center_line": "", "first": "5 mm", "step": "20 mm",
}  # fmt: skip
BROKEN = meshes.stl()[:-7]


@pytest.fixture
def visit(db):
    """A head in the shop."""
    answer = create_visit(db)
    db.commit()
    return answer


def send(client: Client, visit, content: bytes, name="port.stl", status=200) -> Page:
    """Add a scan to a head."""
    address = f"/heads/{visit.tag}/scans"
    data = {
        "csrf_token": client.page(address).form().fields["csrf_token"],
        "scan": (io.BytesIO(content), name), "add": "1",
    }  # fmt: skip
    return client._page(client.post(address, data=data, content_type="multipart/form-data"), status)


@pytest.fixture
def page(client, visit):
    """The page where a scan is cut, its center line proposed."""
    answer = send(client, visit, meshes.stl())
    return client.submit(answer, {**CUT, "propose": "1"})


def test_a_scan_is_previewed_and_saved(client, db, visit, page):
    assert "port.stl: 1152 triangles, 67 × 67 × 34 across" in page.text
    assert len((page.value("center_line") or "").strip().splitlines()) == 9
    preview = client.submit(page, {"preview": "1"})
    rows = [row for row in preview.rows if row[-1] == "new"]
    # The torus: 34 mm across is 1.339 in, its area pi 17^2 mm2 1.407 in2, its short side 33 mm.
    assert [row[0] for row in rows] == ["0.197", "0.984", "1.772", "2.559"]
    assert all(float(row[1]) == pytest.approx(1.407, rel=0.02) for row in rows)
    assert all(float(row[2]) == pytest.approx(1.339, rel=0.01) for row in rows)
    assert all(float(row[5]) == pytest.approx(1.299, rel=0.03) for row in rows)
    assert preview.tree.findall(".//*[@class='chart-box']")
    assert visit.measurements == []
    port = client.submit(preview, {"save": "1"})
    assert port.heading == "Along the port"
    assert port.notices[0] == "Saved: 4 sections from port.stl."
    db.expire_all()
    assert {row.notes for row in visit.measurements} == {"From scan port.stl"}
    assert "Drawn to scale: half the width" in port.text


def test_what_was_not_previewed_is_not_saved(client, db, visit, page):
    preview = client.submit(page, {"preview": "1"})
    changed = client.submit(preview, {"save": "1", "step": "10 mm"})
    assert "the fields have changed since the preview" in changed.text
    db.expire_all()
    assert visit.measurements == []
    client.submit(changed, {"save": "1"})
    db.expire_all()
    assert len(sections.along_port(visit, port_surveys.ports(visit)[0]).surveys[0].points) == 8


def test_a_typed_section_stays(client, db, visit, page):
    shared = {"side": "intake", "cylinder": "2", "when": "after"}
    sections.record(db, BY, visit, shared, [{"distance": "25 mm", "area": "900 mm2"}])
    db.commit()
    preview = client.submit(page, {"preview": "1"})
    notes = [row[-1] for row in preview.rows if len(row) == 7]
    assert notes == ["new", "on record already: that one stays", "new", "new"]
    port = client.submit(preview, {"save": "1"})
    assert port.notices[0] == "Saved: 3 sections from port.stl."
    again = client.submit(f"/heads/{visit.tag}/scans/1", {**CUT, "propose": "1"})
    preview = client.submit(again, {"preview": "1"})
    refused = client.submit(preview, {"save": "1"}, status=422)
    assert "every section here is on record already" in refused.fault("first").lower()


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "is empty"),
        (BROKEN, "is not a whole STL or PLY file"),
        (b"solid port\n facet normal 0 0 1\n", "is damaged or was cut off"),
        (b"ply\nformat ascii 1.0\nelement vertex 99999999\nend_header\n", "more than 200,000"),
    ],
)
def test_a_broken_scan_is_refused_at_its_field(client, visit, content, words):
    page = send(client, visit, content, status=422)
    assert words in page.fault("scan")
    assert "No scans yet" in page.text


def test_no_file_is_told_at_the_field(client, visit):
    assert "choose a scan" in send(client, visit, b"", name="", status=422).fault("scan")


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("unit", "", "Required: choose one"),
        ("unit", "in", "In in the scan is 1.7 m across"),
        ("center_line", "1 2", "line 1, '1 2', is not a point"),
        ("center_line", "", "Too few points"),
        ("center_line", "0 0 500\n0 9 500", "meets a closed outline"),
        ("step", "0.1 mm", "at most 40"),
        ("step", "", "Required"),
        ("first", "9 m", "Beyond the center line"),
        ("cylinder", "99", "not a cylinder"),
    ],
)
def test_faults_stand_at_their_field_and_nothing_typed_is_lost(
    client, visit, page, field, typed, words
):
    faulty = client.submit(page, {field: typed, "preview": "1"}, status=422)
    assert words.lower() in faulty.fault(field).lower()
    other = "center_line" if field != "center_line" else "step"
    assert faulty.value(other) == page.value(other)


def test_a_center_line_is_reversed_and_a_whole_one_is_not_replaced(client, page):
    lines = (page.value("center_line") or "").split("\n")
    turned = client.submit(page, {"reverse": "1"})
    assert [line.strip() for line in (turned.value("center_line") or "").split("\n")] == [
        line.strip() for line in lines[::-1]
    ]
    kept = client.submit(turned, {"propose": "1"}, status=422)
    assert "Has 9 points already" in kept.fault("center_line")


def test_another_head_s_scan_and_other_files_are_no_scan_here(client, db, visit, page):
    other = create_visit(db)
    db.commit()
    client.page(f"/heads/{other.tag}/scans/1", status=404)
    client.page(f"/heads/{visit.tag}/scans/99", status=404)
    assert "port.stl" in client.page(f"/heads/{visit.tag}/scans").links
    assert "port.stl" in client.page(f"/heads/{visit.tag}").text


def test_a_damaged_file_among_the_attachments_is_told(client, db, visit):
    data = {
        "csrf_token": client.page(f"/jobs/{visit.job.number}/files/add").form().fields[
            "csrf_token"
        ],
        "of": visit.tag,
        "files": [(io.BytesIO(b"solid x\n facet normal 0 0 1\n"), "half.stl")],
    }  # fmt: skip
    client.post(
        f"/jobs/{visit.job.number}/files/add", data=data, content_type="multipart/form-data"
    )
    page = client.page(f"/heads/{visit.tag}/scans/1", status=422)
    assert "is damaged or was cut off" in page.text


def test_the_workshop_alone_adds_scans(signed_in, visit):
    signed_in(Role.COUNTER).page(f"/heads/{visit.tag}/scans", status=403)


def test_a_head_without_sections_leads_to_scans(client, visit):
    page = client.page(f"/heads/{visit.tag}/port")
    assert page.links["Add scan"] == f"/heads/{visit.tag}/scans"
