"""Sending papers, the outbox and the mail server in the browser."""

from __future__ import annotations

import re

import pytest

from shopflow.files import FileStore
from shopflow.mail.sealing import Seal
from shopflow.models import JobState, MailState, OutgoingMail, Role
from shopflow.sender import Sender
from shopflow.services.counter import collections
from shopflow.services.hand_off import notes
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.messaging import delivery, outbox, smtp_settings
from shopflow.services.shop import settings
from tests import factories
from tests.factories import (
    BY,
    create_customer,
    create_job,
    create_mailbox,
    create_session,
    queue_mail,
    someone,
)
from tests.optional import present
from tests.smtp import free_port, mail_server

NOW = BY.at


@pytest.fixture
def job(db):
    create_mailbox(db)
    return create_job(db, create_customer(db, name="Orla Finch", email="orla@boats.example"))


@pytest.fixture
def store(web_app) -> FileStore:
    return FileStore(web_app.config["SHOPFLOW"].files)


@pytest.fixture
def sender(web_app, engine) -> Sender:
    return Sender.of(web_app.config["SHOPFLOW"], engine)


def test_a_certificate_is_sent_from_its_page(client, db, job, sender):
    visit = job.heads[0]
    issued = factories.issue_certificate(db, someone(db), [create_session(db, visit)])
    page = client.page(f"/certificates/{issued.number}/1")
    page = client.page(page.links["Send certificate"])
    assert page.value("to_address") == "orla@boats.example"
    assert f"Flow certificate {issued.number}" in page.text
    page = client.submit(page, {"body": "Here it is."})
    assert page.heading == f"Job {job.number}"
    assert "orla@boats.example is in the outbox" in page.notices[0]
    with mail_server() as postbox:
        smtp_settings.get_shop(db).port = postbox.port
        db.commit()
        assert sender.send_due() == 1
    ((to, message),) = postbox.taken
    (paper,) = message.iter_attachments()
    assert to == "orla@boats.example"
    assert paper.get_content() == issued.pdf
    assert present(message.get_body()).get_content().strip() == "Here it is."
    page = client.page(f"/jobs/{job.number}")
    (row,) = [cells for cells in page.rows if "orla@boats.example" in cells]
    assert row[0] == f"Flow certificate {issued.title}"
    assert row[2].startswith("sent")


def test_a_hand_off_sheet_and_a_work_order_are_sent(client, db, job):
    visit = job.heads[0]
    notes.write(db, BY, visit, {}, {}, [{"name": "Deck", "value": "flat"}])
    page = client.page(f"/heads/{visit.tag}/hand-off")
    client.submit(client.page(page.links["Send sheet"]), {})
    page = client.page(f"/jobs/{job.number}")
    client.submit(client.page(page.links["Send work order"]), {})
    client.submit(client.page(page.links["Write to customer"]), {"body": "It is ready."})
    names = [row.attachment_name for row in db.query(OutgoingMail).order_by(OutgoingMail.id)]
    assert names == [f"hand-off-{visit.tag}.pdf", f"work-order-{job.number}.pdf", ""]


def test_the_inspection_report_is_sent_once_something_was_measured(client, db, job):
    assert "Send inspection report" not in client.page(f"/jobs/{job.number}").links
    kind = measurements.kind_by_code(db, "deck flatness")
    measurements.record(db, BY, job.heads[0], kind.id, {"value": "0.004 in"})
    db.commit()
    address = client.page(f"/jobs/{job.number}").links["Send inspection report"]
    client.submit(client.page(address), {})
    (row,) = db.query(OutgoingMail)
    assert row.attachment_name == f"inspection-report-{job.number}.pdf"


def test_the_receipt_of_a_collection_is_sent_while_it_stands(client, db, job):
    factories.approve(db, BY, job, "Orla Finch", "by telephone")
    factories.make_ready(db, BY, job)
    values = {"how": "collected", "handed_on": "2026-03-14", "handed_to": "Orla Finch"}
    collections.hand_over(db, BY, job, values, [], [])
    address = client.page(f"/jobs/{job.number}/collection").links["Send receipt"]
    client.submit(client.page(address), {})
    (row,) = db.query(OutgoingMail)
    assert row.attachment_name == f"collection-{job.number}.pdf"
    assert row.subject.startswith(f"Collection receipt of job {job.number}")
    jobs.move(db, BY, job, JobState.READY)
    client.page(address, status=404)


def test_a_private_link_goes_with_a_message_and_opens_the_page(client, stranger, db, job, sender):
    settings.change(db, BY, settings.get_shop(db), {"web_address": "https://heads.example"})
    client.submit(f"/jobs/{job.number}/write", {"with_link": "y"})
    with mail_server() as postbox:
        smtp_settings.get_shop(db).port = postbox.port
        db.commit()
        sender.send_due()
    words = postbox.taken[0][1].get_content()
    address = present(re.search(r"https://heads\.example(/c/\S+)", words))[1]
    assert stranger.page(address).heading == f"Your job {job.number}"


def test_a_link_without_the_address_of_the_app_is_refused_and_the_words_kept(client, db, job):
    page = client.submit(
        f"/jobs/{job.number}/write", {"with_link": "y", "body": "typed at length"}, status=422
    )
    assert "address of this app" in page.alerts
    assert page.value("body") == "typed at length"
    assert db.query(OutgoingMail).count() == 0


@pytest.mark.parametrize(
    ("field", "value"),
    [("to_address", ""), ("to_address", "orla"), ("subject", ""), ("subject", "x" * 300)],
)
def test_what_cannot_be_sent_is_said_at_its_field(client, db, job, field, value):
    page = client.submit(f"/jobs/{job.number}/write", {field: value, "body": "kept"}, status=422)
    assert page.fault(field)
    assert page.value("body") == "kept"


def test_several_people_can_be_written_to(client, db, job):
    page = client.submit(
        f"/jobs/{job.number}/write", {"cc": "ida@boats.example, nobody"}, status=422
    )
    assert "'nobody' is not an e-mail address" in page.fault("cc")
    page = client.submit(
        f"/jobs/{job.number}/write",
        {"to_address": "a@b.example", "also_to": "c@d.example; A@b.example", "cc": "e@f.example"},
    )
    (row,) = db.query(OutgoingMail)
    assert row.recipients == ("a@b.example", "c@d.example", "e@f.example")
    assert "a@b.example, c@d.example, e@f.example" in page.text


def test_a_line_break_smuggled_into_the_subject_is_refused(client, db, job):
    page = client.page(f"/jobs/{job.number}/write")
    values = {**dict(page.form().form_values()), "subject": "x\r\nBcc: all@else.example"}
    assert client.post(f"/jobs/{job.number}/write", data=values).status_code == 422


def test_without_a_mail_server_the_form_says_so_and_keeps_the_words(client, signed_in, db):
    job = create_job(db, create_customer(db, email="orla@boats.example"))
    page = client.page(f"/jobs/{job.number}/write")
    assert "No mail server is set up yet" in page.text
    assert page.links["Set up mail server"] == "/e-mail"
    page = client.submit(page, {"body": "typed"}, status=422)
    assert page.value("body") == "typed"
    assert (
        "Ask the owner to set it up."
        in signed_in(Role.COUNTER).page(f"/jobs/{job.number}/write").text
    )


def test_the_outbox_shows_what_waits_for_someone_first(client, db, job, store):
    queue_mail(db, store, job, subject="goes out")
    row = queue_mail(db, store, job, subject="stuck")
    row.next_try_at = NOW.replace(year=2020)
    db.flush()
    delivery.refused(db, present(delivery.claim(db, NOW)), NOW, "550 nobody of that name")
    page = client.page("/outbox")
    assert page.rows[0][0] == "stuck 550 nobody of that name"
    assert page.rows[0][3].startswith("failed")
    assert [cells[0].split()[0] for cells in page.rows[1:]] == ["stuck", "goes"]
    page = client.press(f"/outbox/{row.id}", "Send again")
    assert page.notices == ["The message is queued again."]
    page = client.press(page, "Cancel message")
    assert page.notices == ["The message is cancelled."]
    assert "Send again" not in page.response.text


def test_one_that_may_have_arrived_asks_before_it_goes_again(client, db, job, store):
    row = queue_mail(db, store, job)
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    delivery.unsure(db, claimed, NOW, "the line broke")
    page = client.page(f"/outbox/{row.id}")
    assert "The message may have arrived. Ask Søren Madsby" in page.text
    page = client.press(page, "Send again", status=422)
    assert "ask the recipient" in page.alerts.lower()
    page = client.submit(page, {"did_not_arrive": "y"}, action=f"/outbox/{row.id}/again")
    assert page.notices == ["The message is queued again."]


def test_one_that_did_arrive_is_noted(client, db, job, store):
    row = queue_mail(db, store, job)
    claimed = present(delivery.claim(db, NOW))
    delivery.begin_handing_over(db, claimed, NOW)
    delivery.unsure(db, claimed, NOW, "the line broke")
    page = client.press(f"/outbox/{row.id}", "Mark as arrived")
    assert page.notices == ["The message is marked as sent."]
    db.expire_all()
    assert outbox.get(db, row.id).state is MailState.SENT


def test_the_paper_of_a_message_is_the_one_that_was_frozen(client, db, job):
    client.submit(f"/send/work-order/{job.id}", {})
    (row,) = db.query(OutgoingMail)
    answer = client.get(f"/outbox/{row.id}/paper")
    assert answer.data.startswith(b"%PDF")
    assert "attachment" in answer.headers["Content-Disposition"]
    client.submit(f"/jobs/{job.number}/write", {})
    assert client.get(f"/outbox/{row.id + 1}/paper").status_code == 404


def test_the_mail_server_is_set_up_and_its_password_never_shown(client, db):
    values = {"host": "mail.heads.example", "login": "counter", "password": "correct horse",
              "sender": "counter@heads.example"}  # fmt: skip
    page = client.submit("/e-mail", values)
    assert page.notices[0].startswith("The mail server is saved.")
    assert "correct horse" not in page.response.text
    page = client.submit("/e-mail", {"host": "smtp.heads.example"})
    db.expire_all()
    row = smtp_settings.get_shop(db)
    secret = client.application.config["SHOPFLOW"].secret_key
    assert (row.host, smtp_settings.server(row, Seal(secret)).password) == (
        "smtp.heads.example", "correct horse",
    )  # fmt: skip


def test_wrong_settings_are_said_at_their_fields(client):
    values = {"host": "", "port": "99999", "sender": "counter", "reply_to": "nobody"}
    page = client.submit("/e-mail", values, status=422)
    for field in values:
        assert page.fault(field), field


def test_the_second_of_two_who_change_the_server_is_told(client, db):
    create_mailbox(db)
    mine, theirs = client.page("/e-mail"), client.page("/e-mail")
    client.submit(theirs, {"host": "theirs.example"})
    page = client.submit(mine, {"host": "mine.example"}, status=422)
    assert "someone else changed this" in page.alerts.lower()


def test_a_test_message_says_what_the_server_said(client, db):
    create_mailbox(db)
    with mail_server() as postbox:
        smtp_settings.get_shop(db).port = postbox.port
        page = client.submit("/e-mail/test", {"to_address": "ruth@heads.example"})
        assert "took the test message to ruth@heads.example" in page.notices[0]
        assert [to for to, _ in postbox.taken] == ["ruth@heads.example"]
        postbox.to_recipients.append("550 nobody of that name")
        page = client.submit("/e-mail/test", {"to_address": "x@heads.example"}, status=422)
        assert "550 nobody of that name" in page.alerts
        assert page.value("to_address") == "x@heads.example"
    smtp_settings.get_shop(db).port = free_port()
    page = client.submit("/e-mail/test", {"to_address": "x@heads.example"}, status=422)
    assert "cannot be reached" in page.alerts


def test_the_jobs_log_tells_of_messages(client, db, job):
    client.submit(f"/send/work-order/{job.id}", {})
    assert (
        "Message: queued (to orla@boats.example: work-order-"
        in client.page(f"/jobs/{job.number}").text
    )


def test_an_unknown_kind_or_key_is_not_found(client, db, job):
    for address in ("/send/nonsense/1", "/send/certificate/999", "/outbox/999"):
        assert client.get(address).status_code == 404
