"""Verifying a certificate, by anyone who holds it."""

from __future__ import annotations

import io
from datetime import UTC, datetime

import pytest

from shopflow import sessionfile
from shopflow.services import certificates, sessions
from shopflow.services.actor import Actor
from shopflow.services.people import everyone
from shopflow.services.wrong_codes import MOST_WRONG
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_visit, issue_certificate

NOT_OURS = "Not a paper of this shop."


@pytest.fixture
def owner(db):
    """The owner, acting."""
    person = next(one for one in everyone(db) if one.role == "owner")
    return Actor(person, datetime(2026, 3, 5, 12, tzinfo=UTC))


@pytest.fixture
def made(db, owner):
    """An issued certificate."""
    stored = sessions.store(db, BY, create_visit(db), sessionfile.loads(INTAKE_US))
    return issue_certificate(db, owner, [stored])


def told(client, number, code, status=200):
    """What the page says of a number and code."""
    return client.submit("/verify", {"number": number, "code": code}, status=status).text


def uploaded(client, content):
    """What the page says of a PDF."""
    token = client.page("/verify").form().fields["csrf_token"]
    data = {"csrf_token": token, "file": (io.BytesIO(content), "c.pdf")}
    response = client.post("/verify/file", data=data)
    assert response.status_code == 200
    return " ".join(response.text.split())


def test_a_stranger_verifies_by_number_and_code_or_pdf(stranger, made):
    assert "As issued, current." in told(stranger, made.number, made.code)
    loosely = made.code.lower().replace("-", " ")
    assert "As issued, current." in told(stranger, f" {made.number.lower()} ", loosely)
    page = stranger.page(f"/verify/{made.number}?code={made.code}")
    assert "As issued, current." in page.text
    assert "As issued, current." in uploaded(stranger, made.pdf)


def test_nothing_else_is_given_away(stranger, made):
    page = stranger.get(f"/verify/{made.number}?code={made.code}").text
    job = made.job
    for secret in (job.customer.name, f" {job.number}", made.issued_by.name, made.sha256):
        assert secret not in page


def test_a_replaced_or_withdrawn_one_says_so(stranger, db, owner, made):
    rows = [link.session for link in made.sessions]
    second = issue_certificate(db, owner, rows, made, reason="Serial mistyped.")
    said = told(stranger, made.number, made.code)
    assert f"As issued, but replaced. {made.number} was issued" in said
    assert f"replaced by {made.number} revision 2" in said
    assert "As issued, current. " + second.title in told(stranger, second.number, second.code)
    certificates.withdraw(db, owner, second, "Another head was on the bench.")
    said = told(stranger, second.number, second.code)
    assert "Withdrawn: do not rely on it." in said
    assert "on 5 Mar 2026 by Nila Owner: Another head was on the bench." in said
    assert "revision 2, which was withdrawn." in told(stranger, made.number, made.code)
    assert "Withdrawn: do not rely on it." in uploaded(stranger, second.pdf)


def test_an_unknown_number_and_a_wrong_code_are_answered_alike(stranger, made):
    wrong_code = told(stranger, made.number, "0000-0000-0000-0000")
    unknown = told(stranger, "FC-2026-0999", made.code)
    assert wrong_code == unknown
    assert NOT_OURS in unknown
    for code in ("", "ffff", "日本", "0" * 5000, "\x00"):
        page = stranger.get(f"/verify/{made.number}", query_string={"code": code})
        assert page.status_code == 200
        assert "As issued" not in page.text


def test_one_changed_byte_is_not_this_shops(stranger, made):
    changed = bytearray(made.pdf)
    changed[len(changed) // 2] ^= 1
    assert NOT_OURS in uploaded(stranger, bytes(changed))
    assert NOT_OURS in uploaded(stranger, b"")


def test_what_is_left_out_is_asked_for_and_what_is_too_large_refused(stranger, made):
    page = stranger.submit("/verify", {"number": made.number, "code": ""}, status=422)
    assert page.fault("code") == "Fill this in"
    assert page.value("number") == made.number
    page = stranger.submit("/verify", {}, action="/verify/file", status=422)
    assert page.fault("file") == "Choose the PDF"
    token = stranger.page("/verify").form().fields["csrf_token"]
    data = {"csrf_token": token, "file": (io.BytesIO(b"0" * 9_000_000), "c.pdf")}
    assert stranger.post("/verify/file", data=data).status_code == 413


def test_after_too_many_wrong_tries_there_is_a_pause(stranger, made):
    for _ in range(MOST_WRONG):
        told(stranger, made.number, "0000-0000-0000-0000")
    assert "Too many wrong tries." in told(stranger, made.number, made.code, status=429)
    page = stranger.page(f"/verify/{made.number}?code={made.code}", status=429)
    assert "As issued" not in page.text
