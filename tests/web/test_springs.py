"""The page of a head's springs, its forms, the list on paper, and the usual springs."""

from __future__ import annotations

import pymupdf
import pytest

from shopflow.documents import cautions
from shopflow.models import Role
from shopflow.services.measuring import measurements
from shopflow.services.springs import records
from tests import factories
from tests.factories import BY

TYPED = {
    "name": "dual, orange stripe", "points-0-height": "1.800 in", "points-0-load": "120 lbf",
    "points-1-height": "1.250 in", "points-1-load": "330 lbf", "coil_bind_height": "1.150 in",
    "wanted_height": "1.800 in", "valve_lift": "0.480 in",
}  # fmt: skip


@pytest.fixture
def visit(db):
    """A two-valve head with two installed heights."""
    visit = factories.create_planned_visit(db, intake="", exhaust="", cylinders="2")
    kind = measurements.kind_by_code(db, "installed height")
    for cylinder, height in ((1, "1.823 in"), (2, "1.800 in")):
        place = {"cylinder": cylinder, "side": "intake", "valve": "", "when": "after"}
        measurements.record(db, BY, visit, kind.id, {"value": height, **place})
    db.commit()
    return visit


def enter(client, address: str, **changes: str):
    return client.submit(client.page(address), {**TYPED, **changes})


def test_springs_are_entered_and_shown_valve_by_valve(client, visit):
    page = client.page(f"/heads/{visit.tag}")
    page = client.page(page.links["Springs"])
    assert "Enter two or more loads by height" in page.text
    page = client.submit(client.page(page.links["Enter springs, intake"]), TYPED)
    assert page.notices[0] == "The intake springs are saved."
    rows = {row[0]: row for row in page.rows}
    assert rows["Cylinder 1, intake valve"][1:5] == [
        "Within limits", "1.823 in", "0.020 in", "1.803 in",
    ]  # fmt: skip
    assert rows["Cylinder 2, intake valve"][5] == "120.0 lbf"
    assert "Shims to pick: 1 × 0.020 in." in page.text
    assert "Furthest from the height wanted: cylinder 1, intake valve, 0.020 in" in page.text
    assert str(cautions.BY_HAZARD["springs"]) in page.text
    assert str(cautions.DEFERRAL) in page.text
    assert "<svg" in page.response.text
    assert "kind=installed+height" in page.links["Enter measurements"]


def test_a_fault_keeps_what_was_typed_and_more_points_are_added(client, visit):
    address = f"/heads/{visit.tag}/springs/exhaust"
    low = {**TYPED, "points-1-load": "90 lbf"}
    page = client.submit(client.page(address), low, status=422)
    assert "the load must rise as the spring is compressed" in page.fault("points-1-load").lower()
    assert page.value("name") == "dual, orange stripe"
    page = client.submit(page, {"more_points": "Add points"})
    assert page.value("points-7-height") == ""
    assert page.value("points-1-load") == "90 lbf"
    assert client.page(f"/heads/{visit.tag}/springs/both", status=404)


def test_usual_springs_fill_a_heads_first_form(client, db, visit):
    engine = visit.head.engine_type_id
    page = client.page(f"/engines/{engine}")
    page = client.page(page.links["Springs"])
    assert "No usual springs yet." in page.text
    page = client.submit(client.page(page.links["Enter springs, intake"]), TYPED)
    assert "120 lbf, as listed" in page.text
    shown = client.page(f"/heads/{visit.tag}/springs")
    assert "Usual springs of this engine type." in shown.text
    form = client.page(f"/heads/{visit.tag}/springs/intake")
    assert form.value("points-1-load") == "330 lbf"
    page = client.submit(form, {"name": "own"})
    assert "Intake springs: own" in page.text
    page = client.press(client.page(f"/heads/{visit.tag}/springs/intake"), "Remove springs")
    assert "Usual springs of this engine type." in page.text
    page = client.press(client.page(f"/engines/{engine}/springs/intake"), "Remove springs")
    assert "No usual springs yet." in page.text
    assert records.usual(db, visit, "intake") is None


def test_the_list_is_printed_by_valve_with_cautions(client, visit):
    enter(client, f"/heads/{visit.tag}/springs/intake")
    content = client.get(f"/papers/springs/{visit.tag}.pdf").data
    with pymupdf.open(stream=content) as pdf:
        text = " ".join(" ".join(page.get_text() for page in pdf).split())
    for part in (f"Springs and shims of head {visit.tag}", "Intake springs: dual, orange stripe",
                 "cylinder 1, intake valve", "Shims to pick: 1 × 0.020 in.", "Take care",
                 "compress valve springs only with a compressor", "Load at full lift"):  # fmt: skip
        assert part in text, part
    page = client.page(f"/heads/{visit.tag}")
    assert page.links["Spring and shim list (PDF)"] == f"/papers/springs/{visit.tag}.pdf"


def test_the_counter_reads_springs_and_changes_none(signed_in, visit):
    page = signed_in(Role.COUNTER).page(f"/heads/{visit.tag}/springs")
    assert "Enter springs, intake" not in page.links
    assert signed_in(Role.COUNTER).get(f"/heads/{visit.tag}/springs/intake").status_code == 403


def test_shims_on_hand_are_a_setting_of_the_shop(client, visit):
    page = client.page("/shop")
    bad = client.submit(page, {"spring_shims": "0.015 in, 3 in"}, status=422)
    assert "not the thickness of a shim" in bad.fault("spring_shims")
    client.submit(bad, {"spring_shims": "0.015 in; 0.005 in"})
    assert client.page("/shop").value("spring_shims") == "0.015 in, 0.005 in"
    enter(client, f"/heads/{visit.tag}/springs/intake")
    sheet = client.page(f"/heads/{visit.tag}/sheet")
    assert "To pick: 1 × 0.015 in, 1 × 0.005 in." in sheet.text
    assert sheet.links["Open springs"] == f"/heads/{visit.tag}/springs"
