"""Pages of pressure, vacuum, leak and crack tests: added, by valve, corrected, withdrawn."""

from __future__ import annotations

import io

import pytest

from shopflow.models import IntegrityVerdict, Role
from shopflow.services.measuring import integrity_limits
from shopflow.services.routing import operations
from tests import factories, photos


@pytest.fixture
def visit(db):
    """A head of four valves a cylinder in the shop."""
    row = factories.create_planned_visit(db)
    db.commit()
    return row


CRACK = {"method": "dye penetrant", "result": "failed", "spot": "between the seats"}


def test_a_test_is_added_with_its_place_and_photo_corrected_and_withdrawn(client, db, visit):
    page = client.page(client.page(f"/heads/{visit.tag}").links["Leak tests"])
    assert "No pressure, vacuum, leak or crack test yet." in page.text
    page = client.page(page.links["Add crack test"])
    assert "Magnetic particles: pacemakers" in page.text
    place = {"part": "valve", "cylinder": "2", "side": "exhaust", "valve": "rear"}
    fault = client.submit(page, {**CRACK, **place, "valve": ""}, status=422)
    assert fault.fault("valve") == "Choose the valve"
    photo = {"photo": (io.BytesIO(photos.jpeg()), "crack.jpg")}
    page = client.submit(page, {**CRACK, **place, **photo})
    assert "Crack test: failed." in page.notices
    assert "Cylinder 2, rear exhaust valve between the seats" in page.text
    (row,) = visit.integrity_tests
    assert row.photo.caption == "between the seats"
    assert "Failed or repairable: Cylinder 2, rear exhaust valve" in page.text
    address = f"/integrity-tests/{row.id}/correct"
    assert client.submit(address, {"notes": "5 mm"}, status=422).fault("reason")
    page = client.submit(address, {"notes": "5 mm", "reason": "measured since"})
    assert "5 mm" in page.text
    assert "measured since" in client.page(f"/jobs/{visit.job.number}").text
    address = f"/integrity-tests/{row.id}/withdraw"
    assert client.submit(address, status=422).fault("reason")
    page = client.submit(address, {"reason": "a scratch"})
    assert ("a scratch" in page.text, visit.tag in page.text) == (True, True)
    db.expire_all()
    assert visit.integrity_tests == []


def test_a_failed_test_of_a_step_leads_to_its_decision(client, db, by, visit):
    step = operations.add(db, by, visit, operations.kind_by_code(db, "crack-check").id, {})
    db.commit()
    page = client.submit(f"/steps/{step.id}/test-result", CRACK)
    assert page.path == f"/steps/{step.id}/decide"
    assert "Add extra work" in page.links
    page = client.submit(page, {"choice": "ask the customer", "reason": "weld or scrap"})
    assert "until the customer answers" in page.text


def test_valves_are_tested_down_a_table_with_the_limits_proposal(client, db, by, visit):
    engine_type = visit.head.engine_type
    page = client.page(f"/engines/{engine_type.id}/leak-limits")
    assert client.submit(page, {"kind": "vacuum test"}, status=422).fault("least_pressure")
    page = client.submit(page, {"kind": "vacuum test", "least_pressure": "20 inHg"})
    assert "The limit of the vacuum test is saved." in page.notices
    page = client.page(client.page(f"/heads/{visit.tag}/leak-tests").links["Vacuum-test valves"])
    values = {"duration": "30 s", "unit": "inHg", "rows-0-value": "24", "rows-1-value": "15",
              "rows-5-value": "many"}  # fmt: skip
    page = client.submit(page, values, status=422)
    assert "is not a number" in page.fault("rows-5-value")
    assert page.value("rows-1-value") == "15"
    page = client.submit(page, {"rows-5-value": "70 kPa", "rows-5-result": "watch"})
    assert "Saved: 3 valves." in page.notices
    db.expire_all()
    assert [(row.where, row.verdict) for row in visit.integrity_tests] == [
        ("cylinder 1, front intake valve", IntegrityVerdict.PASSED),
        ("cylinder 1, rear intake valve", IntegrityVerdict.FAILED),
        ("cylinder 2, rear intake valve", IntegrityVerdict.WATCH),
    ]
    (limit,) = integrity_limits.of_engine_type(db, engine_type)
    client.submit(
        f"/engines/{engine_type.id}/leak-limits", action=f"/leak-limits/{limit.id}/take-out"
    )
    db.expire_all()
    assert integrity_limits.of_engine_type(db, engine_type) == []


def test_a_head_without_layout_has_no_table_of_valves_and_the_counter_only_reads(
    client, signed_in, db
):
    visit = factories.create_visit(db)
    db.commit()
    page = client.page(f"/heads/{visit.tag}/leak-tests/valves")
    assert "layout" in page.text
    client.page(f"/heads/{visit.tag}/leak-tests/add?kind=smoke", status=404)
    counter = signed_in(Role.COUNTER)
    page = counter.page(f"/heads/{visit.tag}/leak-tests")
    assert "Add crack test" not in page.links
    counter.page(f"/heads/{visit.tag}/leak-tests/add", status=403)
