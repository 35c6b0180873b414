"""The processes of one `shopflow serve` share work and throttles, and stand in for each other."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import pytest
from sqlalchemy import select

from shopflow.config import Settings
from shopflow.database import session_factory
from shopflow.models import Job, MailState, OutgoingMail
from shopflow.services.accounts.login_throttle import TRIES
from shopflow.web import idempotency
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import (
    Answer,
    Browser,
    Server,
    booking,
    serving,
    token_of,
    typed_in,
    until_taken,
    wait_until,
)
from tests.reliability.test_processes import numbers, queue_messages
from tests.smtp import mail_server

pytestmark = pytest.mark.slow

WORKERS = 3


def processes(server: Server) -> list[int]:
    """Process numbers of the workers, and last of the one that sends mail."""
    assert server.process is not None
    pid = server.process.pid
    return [int(text) for text in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]


def is_running(pid: int) -> bool:
    """True where there is such a process, and it is not merely waiting to be counted as ended."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except FileNotFoundError:
        return False


def processor_ticks(pid: int) -> int:
    """Time on a processor that a process took so far."""
    fields = Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()
    return int(fields[11]) + int(fields[12])


def test_workers_share_work_and_throttles_and_are_replaced(shop_copy: ShopCopy):
    with serving(shop_copy.folder, shop_copy.url, options=("--workers", str(WORKERS))) as server:
        browser = shop_copy.someone(server)
        *workers, sender = processes(server)
        assert len(workers) == WORKERS
        before = [processor_ticks(pid) for pid in workers]
        jobs_booked_in_at_once_have_numbers_of_their_own(browser, shop_copy)
        busy = [processor_ticks(pid) > ticks for pid, ticks in zip(workers, before, strict=True)]
        assert sum(busy) > 1
        wrong_passwords_are_counted_over_all(server)

        os.kill(workers[0], signal.SIGKILL)
        os.kill(sender, signal.SIGKILL)
        wait_until(lambda: len({*processes(server)} - {*workers, sender}) == 2)
        assert browser.get("/").status == 200
        server.wait_until_well()
        a_message_is_sent_once(shop_copy)
        log = server.log.read_text()
        assert f"process {workers[0]} (worker) ended with status -9; starting another" in log
        assert f"process {sender} (mail) ended" in log
        assert "Traceback" not in log

        # Whoever kills the first process ends them all, or the port would stay taken.
        children = processes(server)
        server.kill()
        wait_until(lambda: not any(map(is_running, children)))
        server.start()
        assert browser.get("/").status == 200


def jobs_booked_in_at_once_have_numbers_of_their_own(browser: Browser, shop: ShopCopy) -> None:
    """Each answer comes from whichever worker was free."""
    form = typed_in(browser.get("/jobs/new").text, "/jobs/new")

    def booked(n: int) -> Callable[[], Answer]:
        values = booking(form, f"Orla Finch {n}") | {idempotency.FIELD: idempotency.new_key()}
        return lambda: browser.post("/jobs/new", values)

    with ThreadPoolExecutor(8) as pool:
        given = numbers(list(pool.map(until_taken, map(booked, range(16)))))
    assert len({*given}) == 16
    engine = shop.engine()
    with session_factory(engine)() as db:
        assert {*given} <= {*db.scalars(select(Job.number))}
    engine.dispose()


def wrong_passwords_are_counted_over_all(server: Server) -> None:
    """Every try is a connection of its own, and so meets whichever worker."""
    guesser = Browser(server.address)
    guesser.token = token_of(guesser.get("/sign-in").text)
    values = {"login": "walt", "password": "not this one"}
    answers = [guesser.post("/sign-in", values) for _ in range(TRIES + 1)]
    assert ["Wait 15 minutes" in answer.text for answer in answers] == [False] * TRIES + [True]


def a_message_is_sent_once(shop: ShopCopy) -> None:
    """By the process that took the sender's place."""
    engine = shop.engine()
    with mail_server() as postbox:
        with session_factory(engine).begin() as db:
            queue_messages(db, Settings.for_folder(shop.folder, shop.url), postbox.port, 5)

        def all_sent() -> bool:
            with session_factory(engine)() as db:
                return {*db.scalars(select(OutgoingMail.state))} == {MailState.SENT}

        wait_until(all_sent)
        assert len(postbox.taken) == 5
    engine.dispose()
