"""The calendar feed, read back by a calendar library, its bytes held against RFC 5545."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from icalendar import Calendar

from shopflow.models import Role
from shopflow.services.accounts import users
from shopflow.services.jobs import jobs
from shopflow.services.messaging import feeds
from shopflow.services.shop import opening_hours, settings
from tests.factories import BY, create_customer, create_engine_type, create_job, shop_or_none

HOSTILE = "Moss; Sons, & \\ Daughters\nBEGIN:VEVENT"
LONG = "Værksted " * 18


@pytest.fixture
def address(client):
    """Address of the owner's calendar."""
    page = client.submit("/me/calendar", action="/me/calendar")
    return _address(page)


def _address(page):
    (box,) = page.tree.xpath("//input[@id='address']")
    return box.value


def path(address):
    return address[address.index("/calendar/") :]


def named(db, on=True):
    opening_hours.change(db, BY, opening_hours.the_hours(db), {"calendar_names": on})


def events_at(stranger, address):
    answer = stranger.get(path(address))
    assert (answer.status_code, answer.mimetype) == (200, "text/calendar")
    return Calendar.from_ical(answer.data).walk("VEVENT")


def test_a_calendar_finds_the_promised_dates_without_signing_in(stranger, db, address):
    settings.change(db, BY, shop_or_none(db), {"web_address": "http://heads.example"})
    job = create_job(db, promised_on="2026-03-20")
    (event,) = events_at(stranger, address)
    assert event.decoded("dtstart") == date(2026, 3, 20)
    assert event.decoded("dtend") == date(2026, 3, 21)
    assert event["dtstart"].params["VALUE"] == "DATE"
    assert event.decoded("dtstamp") == BY.at
    assert event["sequence"] == job.version
    assert event["transp"] == "TRANSPARENT"
    assert event["url"] == f"http://heads.example/jobs/{job.number}"
    uid = event["uid"]
    jobs.change(db, BY, job, {"promised_on": "2026-03-27"})
    (moved,) = events_at(stranger, address)
    assert (moved["uid"], moved.decoded("dtstart")) == (uid, date(2026, 3, 27))
    assert moved["sequence"] == event["sequence"] + 1


def test_the_customer_is_named_only_where_the_shop_says_so(stranger, db, address):
    create_job(db, create_customer(db, name="Orla Finch"), promised_on="2026-03-20")
    assert b"Orla" not in stranger.get(path(address)).data
    named(db)
    assert "Orla Finch" in str(events_at(stranger, address)[0]["summary"])


def test_lines_are_folded_and_text_escaped_as_rfc_5545_3_1_and_3_3_11_say(stranger, db, address):
    named(db)
    kind = create_engine_type(db, builder="Ærø; Søn, AS", family=LONG.strip())
    create_job(db, create_customer(db, name=HOSTILE), kind, promised_on="2026-03-20")
    data = stranger.get(path(address)).data
    assert data.endswith(b"\r\n")
    lines = data.split(b"\r\n")
    assert not any(b"\n" in line or b"\r" in line for line in lines)
    # 3.1: no line longer than 75 octets, the break left out, and no letter cut in two.
    assert max(map(len, lines)) <= 75
    assert any(line.startswith(b" ") for line in lines)
    for line in lines:
        line.decode()
    unfolded = data.replace(b"\r\n ", b"").decode().split("\r\n")
    (summary,) = [line for line in unfolded if line.startswith("SUMMARY")]
    # 3.3.11: backslash, semicolon, comma and line break are escaped.
    assert r"Ærø\; Søn\, AS" in summary
    assert r"Moss\; Sons\, & \\ Daughters\nBEGIN:VEVENT" in summary
    assert unfolded.count("BEGIN:VEVENT") == 1
    (event,) = events_at(stranger, address)
    assert str(event["summary"]).endswith(HOSTILE)


def test_what_every_calendar_must_have_is_there(stranger, db, address):
    answer = Calendar.from_ical(stranger.get(path(address)).data)
    assert answer["version"] == "2.0"
    assert "shopflow" in str(answer["prodid"])
    assert answer.walk("VEVENT") == []
    assert answer.decoded("refresh-interval") == timedelta(hours=1)


def test_an_address_is_renewed_and_revoked(client, stranger, db, address):
    renewed = _address(client.press("/me/calendar", "Create new address"))
    assert stranger.get(path(address)).status_code == 404
    assert stranger.get(path(renewed)).status_code == 200
    page = client.press("/me/calendar", "Revoke address")
    assert "revoked" in page.notices[0]
    assert stranger.get(path(renewed)).status_code == 404
    assert "Create address" in page.text


def test_what_is_found_is_kept_by_nobody(stranger, address):
    for item in (path(address), "/calendar/wrong.ics", "/calendar/%C3%A9.ics"):
        headers = stranger.get(item).headers
        assert headers["Cache-Control"] == "no-store"
        assert headers["Referrer-Policy"] == "no-referrer"


def test_whoever_has_left_is_shut_out(client, stranger, db, signed_in):
    reader = signed_in(Role.READER)
    address = _address(reader.submit("/me/calendar", action="/me/calendar"))
    assert stranger.get(path(address)).status_code == 200
    person = next(user for user in users.list_all(db) if user.role is Role.READER)
    person.active = False
    assert stranger.get(path(address)).status_code == 404
    assert feeds.of_person(db, person) is not None
