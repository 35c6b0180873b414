"""The outbox: queueing, and what people do with messages after."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import text
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, RuleError, ValidationError
from shopflow.files import FileStore
from shopflow.issuing import mailable_documents
from shopflow.models import MailState, OutgoingMail
from shopflow.services import audit_log
from shopflow.services.hand_off import notes
from shopflow.services.messaging import delivery, outbox
from tests import factories
from tests.factories import (
    BY,
    NOW,
    SEAL,
    create_job,
    create_mailbox,
    create_session,
    create_visit,
    queue_mail,
    someone,
)
from tests.optional import present

LINK = "https://heads.example/c/0123456789-secret-0123456789"


@pytest.fixture
def store(tmp_path) -> FileStore:
    return FileStore(tmp_path / "files")


@pytest.fixture
def row(db, store):
    create_mailbox(db)
    return queue_mail(db, store)


def test_a_message_is_queued_with_an_id_of_its_own_and_logged_on_the_job(db, row):
    assert row.state is MailState.QUEUED
    assert row.message_id.endswith("@heads.example>")
    (entry,) = [item for item in audit_log.of_job(db, row.job) if item.subject == "outgoing_mail"]
    assert (entry.verb, entry.note) == ("queued", "to soren@boats.example: Your head")
    assert outbox.of_job(db, row.job) == outbox.recent(db, 10) == [row]


def test_nothing_is_queued_without_a_mail_server(db, store):
    with pytest.raises(RuleError, match="no mail server"):
        queue_mail(db, store)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("to_address", "nobody"),
        ("to_address", "a@b.example\r\nBcc: c@d.example"),
        ("subject", ""),
        ("subject", "Your head\r\nBcc: c@d.example"),
        ("subject", "x" * 201),
        ("to_name", "n" * 201),
    ],
)
def test_what_cannot_be_sent_is_refused_at_its_field(db, store, field, value):
    create_mailbox(db)
    with pytest.raises(ValidationError) as caught:
        queue_mail(db, store, **{field: value})
    assert [fault.key for fault in caught.value.faults] == [field]


def test_a_private_link_is_sealed_in_the_outbox_and_open_in_the_letter(db, store):
    server = create_mailbox(db)
    row = queue_mail(db, store, link=LINK, body="See how it stands:")
    assert LINK not in repr(db.execute(text("SELECT * FROM outgoing_mail")).all())
    assert delivery.letter(db, row, server, store, SEAL).body == f"See how it stands:\n\n{LINK}"
    placed = queue_mail(db, store, link=LINK, body="At {link} you see it.")
    assert delivery.letter(db, placed, server, store, SEAL).body == f"At {LINK} you see it."


def test_braces_without_a_link_stay_as_typed(db, store):
    server = create_mailbox(db)
    row = queue_mail(db, store, body="a {link} in words")
    assert delivery.letter(db, row, server, store, SEAL).body == "a {link} in words"


def test_a_certificate_goes_out_as_issued(db, store):
    server, visit = create_mailbox(db), create_visit(db)
    issued = factories.issue_certificate(db, someone(db), [create_session(db, visit)])
    mailable_document = mailable_documents.find(db, store, "certificate", issued.id)
    assert mailable_document.job is visit.job
    row = outbox.queue(
        db, BY, mailable_document.job, {"to_address": "a@b.example", "subject": "x"},
        enclosure=mailable_document, store=store, seal=SEAL,
    )  # fmt: skip
    attachment = present(delivery.letter(db, row, server, store, SEAL).attachment)
    assert attachment.content == issued.pdf
    assert attachment.name == f"flow-certificate-{issued.number}-1.pdf"


def test_a_work_order_is_frozen_when_it_is_queued(db, store):
    server, job = create_mailbox(db), create_job(db)
    mailable_document = mailable_documents.find(db, store, "work-order", job.id)
    values = {"to_address": "a@b.example", "subject": "x"}
    row = outbox.queue(db, BY, job, values, enclosure=mailable_document, store=store, seal=SEAL)
    before = present(delivery.letter(db, row, server, store, SEAL).attachment).content
    job.asked_for = "Something else altogether"
    db.flush()
    assert present(delivery.letter(db, row, server, store, SEAL).attachment).content == before
    assert mailable_document.pdf() != before


def test_a_hand_off_sheet_goes_out_and_what_is_not_there_does_not(db, store):
    visit = create_visit(db)
    with pytest.raises(NotFoundError):
        mailable_documents.find(db, store, "hand-off", visit.id)
    notes.write(db, BY, visit, {}, {}, [{"name": "Deck", "value": "flat"}])
    assert mailable_documents.find(db, store, "hand-off", visit.id).pdf().startswith(b"%PDF")
    for kind in ("certificate", "hand-off", "work-order", "nonsense"):
        with pytest.raises(NotFoundError):
            mailable_documents.find(db, store, kind, 999_999)


def test_a_message_is_called_off_before_it_goes(db, row):
    outbox.cancel(db, BY, row)
    assert row.state is MailState.CANCELLED
    assert delivery.claim(db, NOW) is None
    with pytest.raises(RuleError, match="is cancelled by now"):
        outbox.cancel(db, BY, row)


def test_what_a_sender_has_just_now_cannot_be_called_off_or_sent_again(
    db: Session, row: OutgoingMail
):
    assert delivery.claim(db, NOW) is row
    for verb in (outbox.cancel, outbox.send_again, outbox.arrived):
        with pytest.raises(RuleError, match="is sending by now"):
            verb(db, BY, row)


def test_one_that_may_have_arrived_is_sent_again_only_after_asking(db, row):
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    delivery.unsure(db, claimed, NOW, "the line broke")
    before = row.message_id
    with pytest.raises(RuleError, match="ask the recipient"):
        outbox.send_again(db, BY, row)
    outbox.send_again(db, BY, row, did_not_arrive=True)
    assert (row.state, row.attempts, row.message_id) == (MailState.QUEUED, 0, before)


def test_one_that_may_have_arrived_is_noted_as_sent(db, row):
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    delivery.unsure(db, claimed, NOW, "the line broke")
    assert outbox.stuck(db) == [row]
    outbox.arrived(db, BY, row)
    assert (row.state, row.sent_at) == (MailState.SENT, NOW)
    assert outbox.stuck(db) == []


def test_pauses_grow_until_it_is_given_up(db, row):
    now, waited = NOW, []
    while row.state is MailState.QUEUED:
        claimed = present(delivery.claim(db, now))
        delivery.put_off(db, claimed, now, "busy")
        waited.append(row.next_try_at - now)
        now = row.next_try_at if row.state is MailState.QUEUED else now
    assert row.state is MailState.GIVEN_UP
    assert row.attempts == len(delivery.PAUSES) + 1
    assert waited[:-1] == list(delivery.PAUSES)
    assert list(delivery.PAUSES) == sorted(delivery.PAUSES)
    assert audit_log.of_job(db, row.job)[0].note.endswith("busy")


def test_it_is_not_tried_before_its_time(db, row):
    delivery.put_off(db, present(delivery.claim(db, NOW)), NOW, "busy")
    assert delivery.claim(db, NOW + timedelta(seconds=59)) is None
    assert not delivery.anything_due(db, NOW + timedelta(seconds=59))
    assert delivery.claim(db, NOW + timedelta(seconds=60)) is row


def test_a_sender_that_stopped_before_handing_over_loses_the_message_to_the_next(db, row):
    first = present(delivery.claim(db, NOW))
    stale = first.claim
    later = NOW + delivery.LEASE + timedelta(seconds=1)
    assert delivery.claim(db, later) is None
    delivery.take_back_lapsed(db, later)
    assert row.state is MailState.QUEUED
    again = present(delivery.claim(db, row.next_try_at))
    assert again.claim != stale
    # The first wakes up: its claim is void, so it may not send.
    db.expunge(again)
    again.claim = stale
    with pytest.raises(delivery.TakenOverError):
        delivery.begin_handing_over(db, again, later)


def test_a_sender_that_stopped_while_handing_over_leaves_the_message_to_a_person(db, row):
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    later = NOW + delivery.LEASE + timedelta(seconds=1)
    delivery.take_back_lapsed(db, later)
    assert row.state is MailState.UNSURE
    assert delivery.claim(db, later + timedelta(days=30)) is None


def test_a_slow_sender_that_did_succeed_is_believed(db, row):
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    later = NOW + delivery.LEASE + timedelta(seconds=1)
    delivery.take_back_lapsed(db, later)
    delivery.sent(db, row, later)
    assert row.state is MailState.SENT
