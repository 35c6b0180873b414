"""The sender against a real mail server, on both databases: what it does, and does once."""

from __future__ import annotations

import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from dataclasses import dataclass, field
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Engine, update
from sqlalchemy.orm import Session

from shopflow import texts
from shopflow.config import Settings
from shopflow.database import open_engine, session_factory
from shopflow.files import FileStore
from shopflow.mail import delivery
from shopflow.mail.sealing import Seal
from shopflow.models import MailState, OutgoingMail
from shopflow.sender import Sender
from shopflow.services import audit_log
from shopflow.services.messaging import delivery as messaging_delivery
from shopflow.services.messaging import outbox, smtp_settings
from shopflow.services.messaging.enclosure import Enclosure
from tests import factories
from tests.optional import present
from tests.patience import PATIENCE
from tests.smtp import Postbox, free_port, mail_server, server_that_hangs_up

COMMAND = "from shopflow.cli import main; raise SystemExit(main())"


@pytest.fixture
def postbox() -> Iterator[Postbox]:
    with mail_server() as running:
        yield running


@pytest.fixture
def store(tmp_path: Path) -> FileStore:
    return FileStore(tmp_path / "files")


@pytest.fixture
def sender(engine: Engine, store: FileStore) -> Sender:
    return Sender(engine, store, factories.SEAL, patience=5)


@contextmanager
def records(engine: Engine) -> Iterator[Session]:
    """A session that is committed at the end."""
    with session_factory(engine).begin() as db:
        yield db


def queue(engine: Engine, store: FileStore, port: int, count: int = 1, **values: str) -> list[int]:
    """Keys of messages just queued, the mail server set up at a port."""
    with records(engine) as db:
        factories.create_mailbox(db, port)
        job = factories.create_job(db)
        rows = [
            factories.queue_mail(db, store, job, **{"subject": f"number {n}", **values})
            for n in range(count)
        ]
        return [row.id for row in rows]


def stored_message(engine: Engine, key: int) -> OutgoingMail:
    with session_factory(engine)() as db:
        return outbox.get(db, key)


def make_due(engine: Engine) -> None:
    """Let the pauses be over."""
    with records(engine) as db:
        long_ago = datetime.now(UTC) - timedelta(days=1)
        db.execute(update(OutgoingMail).values(next_try_at=long_ago))


@dataclass(frozen=True)
class Listening(FileStore):
    """A store that notes the language in which it is read."""

    spoken: list[str] = field(default_factory=list)

    def get(self, name: str) -> bytes:
        """Content, as ever."""
        self.spoken.append(texts.language())
        return super().get(name)


def test_a_message_is_sent_in_the_shops_language(
    engine: Engine, tmp_path: Path, postbox: Postbox
) -> None:
    store = Listening(tmp_path / "files")
    with records(engine) as db:
        factories.create_shop(db, language="en_GB")
        factories.create_mailbox(db, postbox.port)
        job = factories.create_job(db)
        outbox.queue(
            db,
            factories.BY,
            job,
            {"to_address": "soren@boats.example", "subject": "Your head"},
            enclosure=Enclosure(job, "Work order", "work-order.pdf", lambda: b"%PDF"),
            store=store,
            seal=factories.SEAL,
        )
    assert Sender(engine, store, factories.SEAL, patience=5).send_due() == 1
    assert store.spoken == ["en_GB"]
    assert texts.language() == texts.SOURCE


def test_a_message_is_sent_once_and_noted_on_the_job(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    assert sender.send_due() == 1
    assert sender.send_due() == 0
    ((to, message),) = postbox.taken
    row = stored_message(engine, key)
    assert to == "soren@boats.example"
    assert message["Message-ID"] == row.message_id
    assert str(message["From"]) == "Falling Water Heads <counter@heads.example>"
    assert (row.state, row.attempts, row.last_error) == (MailState.SENT, 1, "")
    with session_factory(engine)() as db:
        job = present(outbox.get(db, key).job)
        assert [item.verb for item in audit_log.of_job(db, job)][:2] == ["sent", "queued"]


MANY: dict[str, Any] = {
    "also_to": "ida@boats.example, SOREN@boats.example",
    "cc": "desk@boats.example",
}


def test_everyone_named_gets_it_once_and_a_refusal_is_logged_apart(engine, sender, store, postbox):
    """RFC 5321, 3.3: a recipient refused for good leaves the others as they are."""
    (key,) = queue(engine, store, postbox.port, **MANY)
    postbox.to_recipients += ["250 OK", "550 ida has left"]
    assert sender.send_due() == 1
    assert [to for to, _ in postbox.taken] == ["soren@boats.example", "desk@boats.example"]
    message = postbox.taken[0][1]
    to = [address.addr_spec for address in message["To"].addresses]
    assert to == ["soren@boats.example", "ida@boats.example"]
    assert str(message["Cc"]) == "desk@boats.example"
    row = stored_message(engine, key)
    assert row.state is MailState.SENT
    assert "ida@boats.example: 550 ida has left" in row.last_error
    with session_factory(engine)() as db:
        job = present(outbox.get(db, key).job)
        first, second = audit_log.of_job(db, job)[:2]
        assert {first.verb, second.verb} == {"sent", "recipient refused"}
    make_due(engine)
    assert sender.send_due() == 0


def test_a_recipient_not_taken_just_now_puts_the_whole_message_off(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port, **MANY)
    postbox.to_recipients += ["250 OK", "450 ida is busy"]
    assert sender.send_due() == 0
    assert postbox.taken == []
    assert "450 ida is busy" in stored_message(engine, key).last_error
    make_due(engine)
    assert sender.send_due() == 1
    assert len(postbox.taken) == 3


def test_a_message_all_refuse_is_refused(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port, **MANY)
    postbox.to_recipients += ["550 no", "551 nor here", "553 nor this"]
    assert sender.send_due() == 0
    row = stored_message(engine, key)
    assert row.state is MailState.REFUSED
    assert all(code in row.last_error for code in ("550 no", "551 nor here", "553 nor this"))


def test_a_private_link_goes_out_and_is_then_forgotten(engine, sender, store, postbox):
    link = "https://heads.example/c/0123456789"
    (key,) = queue(engine, store, postbox.port, link=link)
    sender.send_due()
    assert link in postbox.taken[0][1].get_content()
    assert stored_message(engine, key).link_sealed == ""


def test_a_refusal_for_good_is_not_tried_again(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    postbox.to_recipients.append("550 nobody of that name")
    assert sender.send_due() == 0
    make_due(engine)
    assert sender.send_due() == 0
    row = stored_message(engine, key)
    assert row.state is MailState.REFUSED
    assert "550 nobody of that name" in row.last_error
    assert postbox.taken == []


def test_a_refusal_for_now_is_tried_again_later(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    postbox.to_messages.append("451 come back later")
    assert sender.send_due() == 0
    row = stored_message(engine, key)
    assert (row.state, row.attempts) == (MailState.QUEUED, 1)
    assert "451 come back later" in row.last_error
    assert sender.send_due() == 0
    make_due(engine)
    assert sender.send_due() == 1
    assert postbox.taken[0][1]["Message-ID"] == row.message_id
    assert (stored_message(engine, key).state, stored_message(engine, key).attempts) == (
        MailState.SENT,
        2,
    )


def test_a_server_that_is_down_loses_nothing(engine, sender, store):
    keys = queue(engine, store, free_port(), 3)
    assert sender.send_due() == 0
    assert {stored_message(engine, key).state for key in keys} == {MailState.QUEUED}
    assert "cannot be reached" in stored_message(engine, keys[0]).last_error
    with mail_server() as postbox:
        with records(engine) as db:
            smtp_settings.get_shop(db).port = postbox.port
        make_due(engine)
        assert sender.send_due() == 3
        assert len(postbox.taken) == 3


def test_a_line_broken_before_the_answer_is_never_tried_again_by_itself(engine, sender, store):
    with server_that_hangs_up(after=b".\r\n") as port:
        (key,) = queue(engine, store, port, body="short")
        sender.send_due()
    make_due(engine)
    assert sender.send_due() == 0
    row = stored_message(engine, key)
    assert row.state is MailState.UNSURE
    assert "may have been sent" in row.last_error


def test_a_crash_after_the_server_took_it_leaves_it_to_a_person(
    engine, sender, store, postbox, monkeypatch
):
    """The power fails between the server's yes and our note of it."""

    class PowerFailure(BaseException):
        pass

    def fail(*_: object) -> None:
        raise PowerFailure

    (key,) = queue(engine, store, postbox.port)
    monkeypatch.setattr(messaging_delivery, "sent", fail)
    with pytest.raises(PowerFailure):
        sender.send_due()
    monkeypatch.undo()
    assert len(postbox.taken) == 1
    assert stored_message(engine, key).state is MailState.SENDING
    with records(engine) as db:
        past = datetime.now(UTC) - timedelta(seconds=1)
        db.execute(update(OutgoingMail).values(lease_until=past))
    assert sender.send_due() == 0
    row = stored_message(engine, key)
    assert row.state is MailState.UNSURE
    assert len(postbox.taken) == 1
    with records(engine) as db:
        outbox.send_again(db, factories.BY, outbox.get(db, key), did_not_arrive=True)
    sender.send_due()
    # Sent twice, on a person's word, and to be known as one by its Message-ID.
    assert {message["Message-ID"] for _, message in postbox.taken} == {row.message_id}
    assert len(postbox.taken) == 2


def test_a_crash_before_handing_over_is_made_good(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    make_due(engine)
    long_ago = datetime.now(UTC) - timedelta(hours=1)
    with records(engine) as db:
        assert present(messaging_delivery.claim(db, long_ago)).id == key
    assert sender.send_due() == 0
    assert (
        stored_message(engine, key).last_error
        == "the sender stopped before it handed the message over"
    )
    make_due(engine)
    assert sender.send_due() == 1
    assert len(postbox.taken) == 1


def test_one_whose_paper_is_lost_waits_and_the_others_go(engine, sender, store, postbox):
    keys = queue(engine, store, postbox.port, 2)
    with records(engine) as db:
        row = outbox.get(db, keys[0])
        row.attachment_name, row.attachment_sha256 = "a.pdf", "0" * 64
    assert sender.send_due() == 1
    assert "missing from the shop's folder" in stored_message(engine, keys[0]).last_error
    assert stored_message(engine, keys[1]).state is MailState.SENT


def test_a_password_that_does_not_open_is_said(engine, store, postbox):
    with records(engine) as db:
        factories.create_mailbox(db, postbox.port)
        settings = smtp_settings.get_shop(db)
        settings.login, settings.password_sealed = "counter", Seal("another").shut("word")
        key = factories.queue_mail(db, store).id
    Sender(engine, store, factories.SEAL).send_due()
    assert "secret key has changed" in stored_message(engine, key).last_error


def test_without_a_mail_server_everything_waits(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    with records(engine) as db:
        db.delete(smtp_settings.get_shop(db))
    assert sender.send_due() == 0
    assert stored_message(engine, key).state is MailState.QUEUED


def test_senders_at_once_send_each_message_exactly_once(database_url, engine, store, postbox):
    keys = queue(engine, store, postbox.port, 20)
    start = threading.Barrier(3)

    def send(_: int) -> int:
        own = open_engine(database_url)
        start.wait()
        try:
            return Sender(own, store, factories.SEAL).send_due()
        finally:
            own.dispose()

    with ThreadPoolExecutor(3) as pool:
        counts = list(pool.map(send, range(3)))
    assert sum(counts) == 20
    assert sorted(str(message["Subject"]) for _, message in postbox.taken) == sorted(
        f"number {n}" for n in range(20)
    )
    assert {stored_message(engine, key).state for key in keys} == {MailState.SENT}
    assert {stored_message(engine, key).attempts for key in keys} == {1}


@pytest.mark.slow
def test_two_processes_at_once_send_each_message_exactly_once(
    database_url, engine, tmp_path, postbox
):
    settings = Settings.for_folder(tmp_path / "shop")
    queue(engine, FileStore(settings.files), postbox.port, 12)
    arguments = [sys.executable, "-c", COMMAND, "send", "--data", str(settings.data)]
    arguments += ["--database-url", database_url]
    running = [
        subprocess.Popen(arguments, stdout=subprocess.PIPE, text=True, cwd=tmp_path)
        for _ in range(2)
    ]
    rows = [process.communicate(timeout=PATIENCE)[0] for process in running]
    assert [process.returncode for process in running] == [0, 0]
    assert sum(int(words.split()[0]) for words in rows) == 12
    assert len({message["Message-ID"] for _, message in postbox.taken}) == 12
    assert len(postbox.taken) == 12


@pytest.mark.parametrize(
    "spoilt",
    [{"subject": "two\nlines"}, {"to_address": "@"}, {"attachment_name": "two\nlines.pdf"}],
    ids=str,
)
def test_a_message_that_cannot_be_built_is_set_aside_and_the_others_go_out(
    engine, sender, store, postbox, spoilt
):
    first, second = queue(engine, store, postbox.port, 2)
    if "attachment_name" in spoilt:
        spoilt = {**spoilt, "attachment_sha256": store.put(b"%PDF-1.4 %%EOF")}
    with records(engine) as db:
        db.execute(update(OutgoingMail).where(OutgoingMail.id == first).values(**spoilt))
    assert sender.send_due() == 1
    assert stored_message(engine, first).state is MailState.SET_ASIDE
    assert stored_message(engine, first).last_error.startswith("the message cannot be put together")
    assert stored_message(engine, second).state is MailState.SENT
    with records(engine) as db:
        assert [row.id for row in outbox.stuck(db)] == [first]
        outbox.cancel(db, factories.BY, outbox.get(db, first))


def test_a_watch_goes_on_after_a_fault_and_stops_when_told(
    engine, sender, store, postbox, monkeypatch
):
    queue(engine, store, postbox.port)
    monkeypatch.setattr("shopflow.sender.EVERY", 0.05)
    faults = [OSError("the disk is away")]
    as_it_is: Callable[..., tuple[str, ...]] = delivery.deliver

    def first_fails(*given: object, **named: object) -> tuple[str, ...]:
        if faults:
            raise faults.pop()
        return as_it_is(*given, **named)

    monkeypatch.setattr(delivery, "deliver", first_fails)
    stop = threading.Event()
    thread = threading.Thread(target=sender.watch, args=(stop,))
    thread.start()
    try:
        ends = time.monotonic() + PATIENCE
        while time.monotonic() < ends:
            with records(engine) as db:
                past = datetime.now(UTC) - timedelta(seconds=1)
                sending_now = OutgoingMail.state == MailState.SENDING
                if not faults:
                    db.execute(update(OutgoingMail).where(sending_now).values(lease_until=past))
                db.execute(update(OutgoingMail).values(next_try_at=past))
            if postbox.taken:
                break
            stop.wait(0.1)
    finally:
        stop.set()
        thread.join(timeout=PATIENCE)
    assert not thread.is_alive()
    assert len(postbox.taken) == 1


def test_a_claim_made_by_a_clock_far_ahead_is_taken_back(engine, sender, store, postbox):
    (key,) = queue(engine, store, postbox.port)
    with records(engine) as db:
        assert messaging_delivery.claim(db, datetime.now(UTC) + timedelta(days=30)) is not None
    sender.send_due()
    assert stored_message(engine, key).state is MailState.QUEUED
    make_due(engine)
    assert sender.send_due() == 1
