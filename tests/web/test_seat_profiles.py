"""Seat profiles on their pages: entered, drawn as typed, copied, usual ones of engine types."""

from __future__ import annotations

import pytest

from shopflow.models import Role, SeatProfile, When
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.measuring import seat_profiles
from shopflow.units import SI
from tests import factories
from tests.factories import BY, SEAT

THREE = {
    "cuts-0-angle": "30", "cuts-0-width": ".040", "cuts-0-tool": "30° stone",
    "cuts-1-angle": "45", "cuts-1-width": ".060", "cuts-1-outer_diameter": "1.700",
    "cuts-1-is_contact": "y", "cuts-2-angle": "60", "cuts-2-width": "2 mm",
}  # fmt: skip


@pytest.fixture
def visit(db):
    """A four-valve head in the shop."""
    row = factories.create_planned_visit(db)
    db.commit()
    return row


@pytest.fixture
def address(visit) -> str:
    """The page of its first intake seat."""
    return f"/heads/{visit.tag}/seats/1/intake/1/after"


def enter(client, address, values, status=200):
    """Fill the form of the page in and save."""
    page = client.page(address)
    return client.submit(page, values, action="", status=status)


def test_a_seat_is_entered_and_drawn(client, db, visit, address):
    page = client.page(address)
    assert "Enter the cuts to see the seat drawn." in page.text
    page = enter(client, address, THREE)
    assert page.notices[0] == "The profile of cylinder 1, front intake seat is saved."
    assert page.value("cuts-1-outer_diameter") == "1.700"
    assert page.value("cuts-2-width") == "2 mm"
    assert "<svg" in page.response.text
    assert ["45° seat", "0.060 in", "1.700 in", "1.615 in", "0.042 in", "0.042 in"] in page.rows
    (row,) = visit.seat_profiles
    assert [cut.is_contact for cut in row.cuts] == [False, True, False]


def test_a_fault_keeps_everything_typed_and_saves_nothing(client, visit, address):
    wrong = {**THREE, "cuts-2-angle": "40", "notes": "new stone"}
    page = enter(client, address, wrong, 422)
    assert "40° cut is no steeper than the 45° cut" in page.fault("cuts-2-angle")
    assert (page.value("notes"), page.value("cuts-0-tool")) == ("new stone", "30° stone")
    assert visit.seat_profiles == []
    page = enter(client, address, {**THREE, "cuts-1-is_contact": None}, 422)
    assert "Choose one cut" in page.fault("cuts-0-is_contact")


def test_a_row_and_the_drawing_come_without_a_script(client, visit, address):
    page = enter(client, address, {**THREE, "more_cuts": "Add row"})
    assert page.value("cuts-3-angle") == ""
    assert page.value("cuts-1-angle") == "45"
    assert "<svg" in page.response.text
    page = enter(client, address, {**THREE, "preview": "Update drawing"})
    assert "<svg" in page.response.text
    wrong = {**THREE, "cuts-1-width": "2", "preview": "Update drawing"}
    page = enter(client, address, wrong, 422)
    assert page.fault("cuts-1-width")
    assert visit.seat_profiles == []


def test_a_seat_is_drawn_as_it_is_typed(client, visit, address):
    token = client.page(address).value("csrf_token")
    answer = client.post("/seats/preview/after", data={"csrf_token": token, **THREE}).get_json()
    assert "<svg" in answer["html"]
    assert answer["faults"] == []
    typed = {"csrf_token": token, "cuts-0-angle": "45"}
    answer = client.post("/seats/preview/after", data=typed).get_json()
    assert answer["html"] == ""
    assert "diameter to start from" in answer["faults"][0]
    assert answer["contact"] == 0
    typed |= {"cuts-0-angle": "30", "cuts-1-angle": "44", "cuts-2-angle": "steep"}
    assert client.post("/seats/preview/after", data=typed).get_json()["contact"] == 1
    assert visit.seat_profiles == []
    assert client.post("/seats/preview/later", data=typed).status_code == 404


def test_one_act_copies_a_seat_to_its_side(client, db, visit, address):
    enter(client, address, THREE)
    (row,) = visit.seat_profiles
    page = client.page(address)
    assert "Copy gives the other 7 intake seats this profile." in page.text
    page = client.submit(page, {}, action=f"/seat-profiles/{row.id}/copy")
    assert page.notices[0] == "Copied to 7 intake seats."
    assert "Intake, all 8 seats" in page.text
    assert db.query(SeatProfile).count() == 8
    page = client.page(address)
    assert "It replaces 7 profiles." in page.text
    page = client.submit(page, {}, action=f"/seat-profiles/{row.id}/remove")
    assert page.notices[0] == "The seat profile was removed."
    assert db.query(SeatProfile).count() == 7


def test_a_seat_starts_from_the_usual_one(client, db, visit, address):
    engine_type = visit.head.engine_type
    usual = f"/engines/{engine_type.id}/seats"
    assert "No usual seat yet." in client.page(usual).text
    page = enter(client, f"{usual}/intake", THREE)
    assert page.notices[0] == "The usual intake seat is saved."
    assert "<svg" in page.response.text
    page = client.page(address)
    assert "Nothing is saved yet." in page.text
    assert page.value("cuts-1-angle") == "45"
    assert visit.seat_profiles == []
    assert client.get(f"{usual}/inlet").status_code == 404


def test_history_leads_to_earlier_visits(client, db, visit, by):
    factories.create_seat_profile(db, visit, when=When.BEFORE)
    head = visit.head
    again = booking.BookIn(
        customer_id=visit.job.customer_id, engine_type_id=head.engine_type_id,
        heads=[{"head_id": head.id}], job={},
    )  # fmt: skip
    later = booking.book_in(db, by, again).heads[0]
    db.commit()
    page = client.page(f"/heads/{later.tag}/seats")
    assert page.links[visit.tag] == f"/heads/{visit.tag}/seats"
    assert "45° seat 0.059 in wide" in client.page(f"/heads/{visit.tag}/seats").text


def test_the_counter_reads_and_changes_nothing(signed_in, db, visit, address):
    factories.create_seat_profile(db, visit)
    db.commit()
    client = signed_in(Role.COUNTER)
    page = client.page(f"/heads/{visit.tag}/seats")
    assert "45° seat 0.059 in wide" in page.text
    assert "Change" not in page.text
    assert client.get(address).status_code == 403


def test_a_closed_job_is_not_changed(client, db, visit, address):
    jobs.cancel(db, BY, visit.job, "sold the car")
    db.commit()
    page = enter(client, address, THREE, 422)
    assert "cancelled" in page.alerts
    assert page.value("cuts-1-angle") == "45"


def test_a_head_without_a_layout_says_so(client, db):
    visit = factories.create_visit(db)
    db.commit()
    assert "layout" in client.page(f"/heads/{visit.tag}/seats").text


def test_documents_of_a_head_with_seats_are_made(client, db, visit):
    seat_profiles.save_usual(db, BY, visit.head.engine_type, "exhaust", SEAT, SI)
    factories.create_seat_profile(db, visit)
    db.commit()
    answer = client.get(f"/papers/work-order/{visit.job.number}.pdf")
    assert (answer.status_code, answer.mimetype) == (200, "application/pdf")
