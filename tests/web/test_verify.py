"""Verifying a certificate, by anyone who holds it."""

from __future__ import annotations

import io
from dataclasses import replace
from datetime import UTC, datetime

import pikepdf
import pymupdf
import pytest

from shopflow import issuing, papers, signing, testfile
from shopflow.documents import FlowCertificate
from shopflow.documents.snapshot import from_plain
from shopflow.papers.brief import brief_rows
from shopflow.services.accounts.users import list_all
from shopflow.services.accounts.verification_throttle import MOST_WRONG
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.billing import quotes
from shopflow.services.certificates import issue
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, create_operation, create_visit, issue_certificate
from tests.pdf import samples

NOT_OURS = "Not a document of this shop."
NOT_THE_ISSUED = "Not the PDF that was issued."


@pytest.fixture
def owner(db):
    """The owner, acting."""
    person = next(item for item in list_all(db) if item.role == "owner")
    return Actor(person, datetime(2026, 3, 5, 12, tzinfo=UTC))


@pytest.fixture
def certificate(db, owner):
    """An issued certificate."""
    stored = sessions.store(db, BY, create_visit(db), testfile.loads(INTAKE_US))
    return issue_certificate(db, owner, [stored])


def page_text(client, number, code, status=200):
    """Text of the page for a number and code."""
    return client.submit("/verify", {"number": number, "code": code}, status=status).text


def uploaded(client, content):
    """Text of the page for a PDF."""
    token = client.page("/verify").form().fields["csrf_token"]
    data = {"csrf_token": token, "file": (io.BytesIO(content), "c.pdf")}
    response = client.post("/verify/file", data=data)
    assert response.status_code == 200
    return " ".join(response.text.split())


def test_a_stranger_verifies_by_number_and_code_or_pdf(stranger, certificate):
    stands = f"Certificate {certificate.number} exists and stands."
    assert stands in page_text(stranger, certificate.number, certificate.code)
    loosely = certificate.code.lower().replace("-", " ")
    assert stands in page_text(stranger, f" {certificate.number.lower()} ", loosely)
    assert stands in stranger.page(f"/verify/{certificate.number}?code={certificate.code}").text
    assert "As issued, current." in uploaded(stranger, certificate.pdf)


def content(certificate):
    """Contents of a certificate."""
    return from_plain(FlowCertificate, certificate.snapshot)


def test_by_code_it_is_never_said_to_be_as_issued_but_what_was_issued_is_shown(
    stranger, certificate
):
    """A forged paper may carry a true code."""
    page = stranger.page(f"/verify/{certificate.number}?code={certificate.code}")
    assert "As issued" not in page.text
    assert "A forged document can carry a genuine code." in page.text
    head, stated = certificate.job.heads[0].head, content(certificate)
    issued_on = stated.display.moment(stated.issued_at)
    for value in (head.casting_number, head.serial, issued_on, *brief_rows(stated)[0]):
        assert value in page.text
    issued = stranger.get(page.links["Download issued PDF"])
    assert issued.data == certificate.pdf


def test_the_issued_pdf_is_had_with_the_code_alone_and_not_once_withdrawn(
    stranger, db, owner, certificate
):
    for number, code in ((certificate.number, "0000"), ("FC-2026-0999", certificate.code)):
        assert stranger.get(f"/verify/{number}/issued.pdf?code={code}").status_code == 404
    issue.withdraw(db, owner, certificate, "Another head was on the bench.")
    assert (
        stranger.get(f"/verify/{certificate.number}/issued.pdf?code={certificate.code}").status_code
        == 404
    )
    assert "Download issued PDF" not in page_text(stranger, certificate.number, certificate.code)


def forged(pdf: bytes, value: str) -> bytes:
    """A paper with another figure written over one, its code left as it is."""
    with pymupdf.open(stream=pdf) as document:
        spot = document[0].search_for(value)[0]
        document[0].add_redact_annot(spot, "999.9", fill=(1, 1, 1))
        document[0].apply_redactions()
        return bytes(document.tobytes())


def saved_again(pdf: bytes, *, bare: bool = False) -> bytes:
    """A copy written by another program, with or without the paper's own description."""
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(pdf)) as document:
        if bare:
            del document.docinfo, document.Root.Metadata
        document.save(out, object_stream_mode=pikepdf.ObjectStreamMode.generate)
    return out.getvalue()


def test_a_forged_paper_with_a_true_code_is_shown_beside_what_was_issued(stranger, certificate):
    row = brief_rows(content(certificate))[0]
    paper = forged(certificate.pdf, row[1])
    assert certificate.code in "".join(page.get_text() for page in pymupdf.open(stream=paper))
    page = uploaded(stranger, paper)
    assert NOT_THE_ISSUED in page
    assert (
        f"This PDF says it is Flow certificate {certificate.number}, but its bytes differ" in page
    )
    assert "As issued" not in page
    assert all(value in page for value in row)
    altered = page[page.index("Differences from the issued PDF") : page.index("What was issued")]
    assert "999.9" in altered
    assert row[1] in altered


def test_what_differs_from_the_issued_one_is_listed(stranger, certificate):
    stated = from_plain(FlowCertificate, certificate.snapshot)
    page = uploaded(stranger, papers.flow_certificate(replace(stated, issued_by="Nobody Real")))
    assert NOT_THE_ISSUED in page
    differences = page[page.index("Differences from the issued PDF") :]
    assert "Authorized by Nobody Real" in differences
    assert f"Authorized by {stated.issued_by}" in differences


def test_a_copy_of_the_same_text_is_told_apart_from_a_changed_one(stranger, certificate):
    page = uploaded(stranger, saved_again(certificate.pdf))
    assert "The text of both is the same, line by line." in page


def test_the_key_is_shown_and_the_verifiers_are_handed_out(client, stranger, folder):
    assert "Without this site" not in stranger.page("/verify").text
    assert stranger.get("/verify/offline.html").status_code == 404
    client.press("/shop", "Create signing key")
    (key,) = signing.public_keys(folder)
    page = stranger.page("/verify")
    assert key.printed in page.text
    for name, button in (("offline.html", "Download page"), ("offline.py", "Download program")):
        assert button in page.text
        answer = stranger.get(f"/verify/{name}")
        assert answer.headers["Content-Disposition"].startswith("attachment")
        assert key.x in answer.text
        assert "PRIVATE" not in answer.text


@pytest.mark.parametrize("bare", [False, True])
def test_a_copy_saved_again_is_told_which_paper_it_claims_to_be(stranger, certificate, bare):
    page = uploaded(stranger, saved_again(certificate.pdf, bare=bare))
    assert NOT_THE_ISSUED in page
    assert f"differ from the PDF that was issued as {certificate.number}" in page


def test_a_copy_without_text_is_known_by_the_tests_inside_it(stranger, certificate):
    out = io.BytesIO()
    with pikepdf.open(io.BytesIO(saved_again(certificate.pdf, bare=True))) as document:
        for page in document.pages:
            page.Contents = document.make_stream(b"")
        document.save(out)
    page = uploaded(stranger, out.getvalue())
    assert "This PDF has tests of this shop inside, but its bytes differ" in page
    assert f"differ from the PDF that was issued as {certificate.number}" in page


def test_a_copy_with_another_code_is_told_no_more_than_what_it_says(stranger, certificate):
    """Nobody who has not its code is told that a number exists."""
    item, other = (
        papers.flow_certificate(samples.certificate([samples.session()], number=number))
        for number in (certificate.number, "FC-2026-0999")
    )
    pages = [uploaded(stranger, pdf) for pdf in (item, other)]
    assert "This PDF says it is Flow certificate FC-2026-0999, but its bytes are not" in pages[1]
    assert (
        f"This PDF says it is Flow certificate {certificate.number}, but its bytes are not"
        in pages[0]
    )


def test_a_genuine_quote_or_invoice_is_not_called_unknown(stranger, db, owner, certificate):
    job = certificate.job
    step = create_operation(db, job.heads[0], price="190")
    quote = issuing.give_quote(db, owner, job, {"valid_until": "2026-04-01"})
    quotes.approve(db, owner, quote, "Tarn", "by telephone")
    invoice = issuing.issue_invoice(db, owner, job, [step.id])
    for paper, title in ((quote, f"Quote {quote.title}"), (invoice, f"Invoice {invoice.number}")):
        assert f"As issued.</strong> {title} left this shop on" in uploaded(stranger, paper.pdf)
        copy = uploaded(stranger, saved_again(paper.pdf))
        assert f"This PDF says it is {title}, but its bytes are not those" in copy


def test_a_hand_off_sheet_is_told_what_it_says_it_is(stranger, certificate):
    page = uploaded(stranger, papers.hand_off(samples.hand_off()))
    assert f"This PDF says it is Hand-off sheet {samples.head().tag}, but its bytes are" in page
    assert "Ask the shop for the document it issued." in page


def test_nothing_else_is_given_away(stranger, certificate):
    page = stranger.get(f"/verify/{certificate.number}?code={certificate.code}").text
    job = certificate.job
    for secret in (
        job.customer.name,
        f" {job.number}",
        certificate.issued_by.name,
        certificate.sha256,
    ):
        assert secret not in page


def test_a_replaced_or_withdrawn_one_says_so(stranger, db, owner, certificate):
    rows = [link.session for link in certificate.sessions]
    second = issue_certificate(db, owner, rows, certificate, reason="Serial mistyped.")
    output = page_text(stranger, certificate.number, certificate.code)
    assert f"Certificate {certificate.number} exists, but was replaced by {second.title}." in output
    assert "As issued, but replaced." in uploaded(stranger, certificate.pdf)
    stands = f"Certificate {second.title} exists and stands."
    assert stands in page_text(stranger, second.number, second.code)
    issue.withdraw(db, owner, second, "Another head was on the bench.")
    output = page_text(stranger, second.number, second.code)
    assert "Withdrawn: do not rely on it." in output
    assert "on Mar 5, 2026 by Nila Owner: Another head was on the bench." in output
    assert "revision 2, which was withdrawn." in page_text(
        stranger, certificate.number, certificate.code
    )
    assert "Withdrawn: do not rely on it." in uploaded(stranger, second.pdf)


def test_an_unknown_number_and_a_wrong_code_are_answered_alike(stranger, certificate):
    wrong_code = page_text(stranger, certificate.number, "0000-0000-0000-0000")
    unknown = page_text(stranger, "FC-2026-0999", certificate.code)
    assert wrong_code == unknown
    assert NOT_OURS in unknown
    for code in ("", "ffff", "日本", "0" * 5000, "\x00"):
        page = stranger.get(f"/verify/{certificate.number}", query_string={"code": code})
        assert page.status_code == 200
        assert "As issued" not in page.text


def test_one_changed_byte_is_not_this_shops(stranger, certificate):
    for quarter in (1, 2, 3):
        changed = bytearray(certificate.pdf)
        changed[quarter * len(changed) // 4] ^= 1
        page = uploaded(stranger, bytes(changed))
        assert "As issued" not in page
        # The byte may be one without which the file cannot be read at all.
        assert NOT_THE_ISSUED in page or NOT_OURS in page
    assert NOT_THE_ISSUED in uploaded(stranger, certificate.pdf + b"\n")
    assert NOT_OURS in uploaded(stranger, b"")


def test_what_is_left_out_is_asked_for_and_what_is_too_large_refused(stranger, certificate):
    page = stranger.submit("/verify", {"number": certificate.number, "code": ""}, status=422)
    assert page.fault("code") == "Required: enter a value"
    assert page.value("number") == certificate.number
    page = stranger.submit("/verify", {}, action="/verify/file", status=422)
    assert page.fault("file") == "Choose the PDF"
    token = stranger.page("/verify").form().fields["csrf_token"]
    data = {"csrf_token": token, "file": (io.BytesIO(b"0" * 9_000_000), "c.pdf")}
    assert stranger.post("/verify/file", data=data).status_code == 413


def test_after_too_many_wrong_tries_there_is_a_pause(stranger, certificate):
    for _ in range(MOST_WRONG):
        page_text(stranger, certificate.number, "0000-0000-0000-0000")
    assert "Too many wrong tries." in page_text(
        stranger, certificate.number, certificate.code, status=429
    )
    page = stranger.page(f"/verify/{certificate.number}?code={certificate.code}", status=429)
    assert "As issued" not in page.text
