"""The counter's pages: what comes in with a head, handing over, warranty returns."""

from __future__ import annotations

import io
import os
import time

import pytest

from shopflow.files import FileStore
from shopflow.models import JobState, Role, Shop
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs, received_parts
from shopflow.services.registry import attachments
from shopflow.services.routing import operations
from shopflow.web.folder import KEPT_FOR
from tests import factories, photos
from tests.factories import (
    BY,
    create_customer,
    create_job,
)
from tests.optional import present

NEW_JOB = {
    "customer-name": "Orla Finch",
    "engine_type-builder": "Hollin",
    "engine_type-family": "K7",
    "engine_type-cylinders": "4",
    "heads-0-serial": "A-1",
    "heads-0-counts-springs": "16",
    "heads-0-other_parts": "2 rocker shafts",
}


def send(client, page, values, photo=None, status=200):
    """Send a booking with a photo of its first head, as a browser does: in parts."""
    data = {"csrf_token": page.value("csrf_token"), **values}
    if photo is not None:
        data["heads-0-photos-camera"] = (io.BytesIO(photo), "crack.jpg")
    answer = client.post("/jobs/new", data=data, content_type="multipart/form-data")
    return client._page(answer, status)


def ready_job(db, counted="8 valves"):
    job = create_job(db)
    jobs.change_visit(db, BY, job.heads[0], {"parts": counted})
    factories.approve(db, BY, job, "Orla Finch", "by telephone")
    factories.make_ready(db, BY, job)
    return job


def test_parts_and_photos_come_in_on_the_same_page(client, db):
    page = send(client, client.page("/jobs/new"), {**NEW_JOB, "then": "tags"}, photos.jpeg())
    assert page.heading.startswith("Labels for job")
    (job,) = jobs.recent(db)
    assert received_parts.in_lines(job.heads[0]) == "16 springs\n2 rocker shafts"
    (photo,) = attachments.of_stay(db, job.heads[0])
    assert (photo.is_photo, present(photo.added_by).role) == (True, Role.OWNER)


def test_a_photo_is_kept_through_a_fault_and_a_change_of_shape(client, db):
    page = client.page("/jobs/new")
    faulty = {**NEW_JOB, "job-boost": "much"}
    page = send(client, page, faulty, photos.jpeg(), status=422)
    assert "Saved: crack.jpg" in page.text
    values = {"heads-0-photos-kept": page.value("heads-0-photos-kept")}
    page = send(client, page, {**faulty, **values, "add_head": "1"})
    assert "Saved: crack.jpg" in page.text
    assert (page.value("heads-0-counts-springs"), page.value("heads-1-serial")) == ("16", "")
    values = {"heads-0-photos-kept": page.value("heads-0-photos-kept")}
    send(client, page, {**NEW_JOB, **values})
    (job,) = jobs.recent(db)
    assert [row.name for row in attachments.of_stay(db, job.heads[0])] == ["crack.jpg"]


def test_a_photo_never_booked_in_is_let_go_of_after_a_day(client, db, web_app):
    """Swept by another photo's coming; what is on file is out of reach of that."""
    send(client, client.page("/jobs/new"), NEW_JOB, photos.jpeg(700, 500))
    page = client.page("/jobs/new")
    page = send(client, page, {**NEW_JOB, "job-boost": "much"}, photos.jpeg(), status=422)
    values = {"heads-0-photos-kept": page.value("heads-0-photos-kept")}
    settings = web_app.config["SHOPFLOW"]
    for folder in (settings.counter, settings.files):
        for path in FileStore(folder).paths():
            os.utime(path, (0, time.time() - KEPT_FOR - 60))
    send(client, page, {**NEW_JOB, "job-boost": "much"}, photos.jpeg(600, 400), status=422)
    page = send(client, page, {**NEW_JOB, **values, "heads-0-serial": "A-2"}, status=422)
    assert "crack.jpg: expired after a day" in page.fault("heads-0-photos-chosen")
    assert "Kept:" not in page.text
    (job,) = jobs.recent(db)
    (photo,) = attachments.of_stay(db, job.heads[0])
    assert FileStore(settings.files).has(photo.sha256)


@pytest.mark.parametrize("kept", ["x", "W10.abc", "\x00"])
def test_a_note_of_photos_that_is_not_ours_brings_none(client, db, kept):
    send(client, client.page("/jobs/new"), {**NEW_JOB, "heads-0-photos-kept": kept})
    (job,) = jobs.recent(db)
    assert attachments.of_job(db, job) == []


def test_what_is_no_photo_is_said_at_its_field(client, db):
    page = send(client, client.page("/jobs/new"), NEW_JOB, b"MZ not a photo", 422)
    assert "crack.jpg" in page.fault("heads-0-photos-camera")
    assert page.value("heads-0-serial") == "A-1"


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("heads-0-counts-springs", "many", "whole number"),
        ("heads-0-other_parts", "16", "a count and a name"),
    ],
)
def test_a_count_that_cannot_be_is_said_at_its_field(client, db, field, typed, words):
    page = client.submit("/jobs/new", {**NEW_JOB, field: typed}, status=422)
    assert words in page.fault(field)
    assert jobs.recent(db) == []


def test_a_casting_seen_before_shows_its_life_as_it_is_typed(client, db):
    job = create_job(db, create_customer(db, name="Wren Motors"))
    serial = job.heads[0].head.serial
    answer = client.get("/jobs/new/seen", query_string={"serial": serial.lower(), "place": "1"})
    html = answer.get_json()["html"]
    assert 'name="heads-1-head_id"' in html
    assert job.heads[0].tag in html
    assert "here now on an open job" in html
    assert "Wren Motors" in html
    for odd in ({"place": "x", "serial": "\x00"}, {"place": "99", "casting_number": "%"}, {}):
        assert client.get("/jobs/new/seen", query_string=odd).get_json()["html"].strip() == ""


def test_without_a_script_the_button_shows_the_same(client, db):
    job = create_job(db)
    page = client.submit(
        "/jobs/new",
        {"heads-0-serial": job.heads[0].head.serial, "customer-name": "Ada"},
        status=422,
    )
    assert "here now on an open job" in page.text
    assert page.tree.xpath(f"//a[@href='/heads/{job.heads[0].tag}'][@target='_blank']")


def test_booking_in_leads_on_to_the_quote(client, db):
    values = {**NEW_JOB, "then": "quote"}
    page = send(client, client.page("/jobs/new"), values)
    assert "uote" in page.heading


def test_parts_are_changed_a_line_each(client, db):
    visit = create_job(db).heads[0]
    page = client.submit(f"/heads/{visit.tag}/condition", {"parts": "8 valves\n1 cam"})
    assert "8 valves, 1 cam" in page.text
    page = client.submit(f"/heads/{visit.tag}/condition", {"parts": "8"}, status=422)
    assert "a count and a name" in page.fault("parts")


def test_a_job_is_handed_over_by_its_checklist(signed_in, db):
    counter = signed_in(Role.COUNTER)
    job = ready_job(db)
    address = f"/jobs/{job.number}/collection"
    assert counter.page(f"/jobs/{job.number}").links["Hand over"] == address
    page = counter.submit(address, {"handed_to": ""}, status=422)
    assert page.fault("handed_to") == "Required: enter a value"
    page = counter.submit(address, {"handed_to": "Orla Finch"}, status=422)
    assert "Enter the number that goes back" in page.fault("parts-0-returned")
    short = {"handed_to": "Orla Finch", "parts-0-returned": "7"}
    page = counter.submit(address, short, status=422)
    assert "enter what happened to it" in page.fault("parts-0-word")
    page = counter.submit(address, {**short, "parts-0-word": "one bent"})
    assert page.heading == "Collected"
    assert page.rows == [[job.heads[0].tag, "valves", "8", "7", "one bent"]]
    receipt = counter.get(f"/papers/collection/{job.number}.pdf")
    assert (receipt.status_code, receipt.mimetype) == (200, "application/pdf")
    assert "one bent" in counter.page(f"/jobs/{job.number}").text


def test_shipping_asks_for_the_carrier_and_keeps_what_was_ticked(client, db):
    job = ready_job(db)
    address = f"/jobs/{job.number}/collection"
    sent = {"handed_to": "Tarn Motors", "how": "shipped", "parts-0-all_back": "y"}
    page = client.submit(address, sent, status=422)
    assert (page.fault("carrier"), page.fault("packed_by")) == (
        "Enter the carrier", "Enter who packed it",
    )  # fmt: skip
    assert page.value("parts-0-all_back") == "y"
    more = {"carrier": "Tarn Freight", "parcels": "1", "packed_by": "Nila"}
    assert client.submit(page, more).heading == "Shipped"
    client.press(f"/jobs/{job.number}", "Undo shipping")
    db.expire_all()
    assert (job.state, job.collection) == (JobState.READY, None)


def test_the_machinist_hands_over_what_is_paid_and_a_reader_nothing(signed_in, db):
    job = ready_job(db)
    signed_in(Role.READER).page(f"/jobs/{job.number}/collection", status=403)
    machinist = signed_in(Role.MACHINIST)
    values = {"handed_to": "Orla", "parts-0-all_back": "y"}
    assert machinist.submit(f"/jobs/{job.number}/collection", values).heading == "Collected"


def test_what_is_not_ready_is_not_handed_over(client, db):
    job = create_job(db)
    page = client.page(f"/jobs/{job.number}/collection")
    assert "Mark it ready first" in page.text
    assert client.get(f"/papers/collection/{job.number}.pdf").status_code == 404


def test_a_return_is_booked_from_its_job_and_shown_on_both(client, db, shop: Shop):
    job = ready_job(db)
    values = {"handed_to": "Orla", "parts-0-all_back": "y"}
    client.submit(f"/jobs/{job.number}/collection", values)
    page = client.page(client.page(f"/jobs/{job.number}").links["Book warranty return"])
    assert page.heading == "Book in a warranty return"
    again = client.submit(page, status=422)
    assert again.fault("warranty-reason") == "Required: enter a value"
    client.submit(again, {"warranty-reason": "seat leaks", "warranty-borne_by": "the shop"})
    row = next(item for item in jobs.recent(db) if item.number != job.number)
    assert f"from job {job.number}: seat leaks" in client.page(f"/jobs/{row.number}").text
    assert f"as job {row.number}" in client.page(f"/jobs/{job.number}").text
    assert "warranty return" in client.page(f"/heads/{job.heads[0].head_id}").text
    page = client.submit(f"/jobs/{row.number}/warranty", {"borne_by": "shared"})
    assert "Who pays: shared" in page.text


def test_a_return_of_nothing_is_not_found(client, db):
    client.page("/jobs/new?returns=2020-1", status=404)
    client.page(f"/jobs/{create_job(db).number}/warranty", status=404)


def test_everything_is_handed_over_by_one_button(client, db):
    machinist = Actor(factories.create_person(db, login="idris"), BY.at)
    job = create_job(db)
    step = factories.create_operation(db, job.heads[0], "hot-wash", price="0")
    received_parts.replace(db, BY, job.heads[0], {"valves": 16})
    jobs.mark_approved(db, BY, job, "Ada", "telephone")
    operations.start(db, machinist, step)
    operations.sign_off(db, machinist, step, {})
    jobs.move(db, BY, job, JobState.READY)
    page = client.press(f"/jobs/{job.number}/collection", "Hand over all")
    db.expire_all()
    assert job.state is JobState.COLLECTED
    collection = present(job.collection)
    assert (collection.handed_to, collection.parts[0]["returned"]) == (job.customer.name, 16)
    assert page.notices == [f"Job {job.number} is collected."]
