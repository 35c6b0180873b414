"""The server's own mail sender beside a message that cannot be built, on both databases."""

from __future__ import annotations

import pytest
from sqlalchemy import select

from shopflow.database import session_factory
from shopflow.files import FileStore
from shopflow.models import MailState, OutgoingMail
from tests import factories
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import serving, wait_until
from tests.smtp import mail_server

pytestmark = pytest.mark.slow


def spoil_one_and_queue_another(shop_copy: ShopCopy, port: int) -> int:
    """Key of a message that cannot be built, the first of two that are due."""
    engine, store = shop_copy.engine(), FileStore(shop_copy.folder / "files")
    with session_factory(engine).begin() as db:
        for row in db.scalars(select(OutgoingMail).where(OutgoingMail.state == MailState.QUEUED)):
            row.state = MailState.CANCELLED
        factories.create_mailbox(db, port)
        job = factories.create_job(db)
        spoilt = factories.queue_mail(db, store, job)
        spoilt.attachment_name = "two\nlines.pdf"
        spoilt.attachment_sha256 = store.put(b"%PDF-1.4 %%EOF")
        factories.queue_mail(db, store, job, subject="The one that goes out")
        key = spoilt.id
    engine.dispose()
    return key


def test_a_message_that_cannot_be_built_is_set_aside_and_the_sender_lives(shop_copy: ShopCopy):
    with mail_server() as postbox:
        spoilt = spoil_one_and_queue_another(shop_copy, postbox.port)
        with serving(shop_copy.folder, shop_copy.url) as server:
            browser = shop_copy.someone(server)
            wait_until(lambda: bool(postbox.taken))
            assert "The one that goes out" in str(postbox.taken[0][1]["Subject"])
            page = browser.get("/outbox").text
            assert "set aside" in page
            assert "The message cannot be put together" in page
            message = browser.get(f"/outbox/{spoilt}").text
            assert "cancel this message and write a new one" in message
            assert browser.get("/health").text == "ok\n"
