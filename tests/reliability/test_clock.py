"""The clock of the server set back, as a battery or a time service can do: numbers do not repeat,
nothing is lost, messages go out, and people work on.
"""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from sqlalchemy import select

from shopflow.config import Settings
from shopflow.database import session_factory
from shopflow.files import FileStore
from shopflow.models import Job, MailState, OutgoingMail
from tests import factories
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import Server, booking, run, serving, typed_in, wait_until
from tests.smtp import mail_server

pytestmark = pytest.mark.slow

BACK = -timedelta(hours=30).total_seconds()
"""More than a sign-in lasts: a browser that knows better must not drop its cookie at once.

Guard: `web.auth.LastingResponse`; with Expires alone nobody signs in.
"""

CLOCK = Path(__file__).with_name("clock")


def set_off(seconds: float) -> tuple[str, ...]:
    """Command prefix that runs a server with its clock set off."""
    return ("env", f"PYTHONPATH={CLOCK}", f"TEST_CLOCK_OFF={seconds}")


def book_in(shop_copy: ShopCopy, server: Server, count: int) -> str:
    """Sign in and book a head in; the job's number."""
    someone = shop_copy.someone(server)
    form = typed_in(someone.get("/jobs/new").text, "/jobs/new")
    booked = someone.post("/jobs/new", booking(form, f"Orla Finch {server.port} {count}"))
    assert booked.status == 302, booked.text[-2000:]
    return booked.headers["Location"].rpartition("/")[2]


@pytest.mark.long
def test_with_the_clock_set_back_numbers_go_on_and_people_work_on(shop_copy: ShopCopy):
    rows = []
    for seconds in (0.0, BACK, 0.0):
        with serving(shop_copy.folder, shop_copy.url, before=set_off(seconds)) as server:
            rows += [book_in(shop_copy, server, count) for count in range(2)]
    assert len(set(rows)) == len(rows)
    engine = shop_copy.engine()
    with session_factory(engine)() as db:
        booked = {row.number: row.booked_in_at for row in db.scalars(select(Job))}
    engine.dispose()
    # The clock really was back.
    assert booked[rows[2]] < booked[rows[0]] - timedelta(hours=29)
    assert run("check", *shop_copy.where).returncode == 0


def test_after_the_clock_was_set_back_earlier_pages_are_refused_in_words_and_messages_go_out(
    in_sqlite: ShopCopy,
):
    settings = Settings.for_folder(in_sqlite.folder)
    with serving(in_sqlite.folder, before=set_off(0.0)) as server:
        someone = in_sqlite.someone(server)
    engine = in_sqlite.engine()

    def sent() -> bool:
        with session_factory(engine)() as db:
            return db.get_one(OutgoingMail, key).state is MailState.SENT

    with mail_server() as postbox:
        with session_factory(engine).begin() as db:
            factories.create_mailbox(db, postbox.port)
            job = db.scalars(select(Job).limit(1)).one()
            row = factories.queue_mail(db, FileStore(settings.files), job)
            row.next_try_at = datetime.now(UTC)
            key, subject = row.id, row.subject
        with serving(in_sqlite.folder, before=set_off(BACK)) as server:
            answer = someone.at(server.address).post("/customers/new", {"name": "Early"})
            # A sign-in from the future is none: what was typed stands in the page before.
            assert answer.status == 400
            assert "Go back, copy what you typed" in answer.text
            assert in_sqlite.someone(server).post("/customers/new", {"name": "Late"}).status == 302
            wait_until(sent)
        assert [message["subject"] for _, message in postbox.taken].count(subject) == 1
    engine.dispose()
