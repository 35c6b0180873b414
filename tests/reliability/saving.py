"""Eight people who save without a pause, and what each was told is on file."""

from __future__ import annotations

import http.client
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field

from sqlalchemy import select

from shopflow.database import session_factory
from shopflow.models import Customer, Event, TestDraft, Visit
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import Answer, Server, typed_in

CLIENTS = 8
READING = "rows-0-first"


@dataclass
class ClientLog:
    """Requests of one client, and those acknowledged."""

    name: str
    tag: str
    customers: list[str] = field(default_factory=list)
    """Names acknowledged, one after the other."""

    reading: int = 0
    """The last reading acknowledged; each is one more than the one before."""

    sent: int = 0
    """The last reading sent."""

    acknowledged: int = 0
    put_off: list[Answer] = field(default_factory=list)
    """Answers that took nothing."""

    cut_off: int = 0
    """Requests that got no answer."""


class Crowd:
    """Clients at work on a server until told to stop."""

    def __init__(self, shop_copy: ShopCopy, server: Server, clients: int = CLIENTS) -> None:
        self.client_logs = [
            ClientLog(f"client-{n}", tag) for n, tag in enumerate(shop_copy.tags(clients))
        ]
        assert len(self.client_logs) == clients
        self._kept, self._server = shop_copy, server
        self._stop = threading.Event()
        self._faults: list[BaseException] = []
        self._threads = [
            threading.Thread(target=self._work, args=(client,), daemon=True)
            for client in self.client_logs
        ]

    @property
    def acknowledged(self) -> int:
        """Saves acknowledged to anyone."""
        return sum(client.acknowledged for client in self.client_logs)

    @property
    def put_off(self) -> list[Answer]:
        """Every answer, to whomever, that took nothing."""
        return [answer for client in self.client_logs for answer in client.put_off]

    def wait_for(self, count: int, within: float = 300.0) -> None:
        """Wait until so many saves are acknowledged."""
        ends = time.monotonic() + within
        while self.acknowledged < count:
            if self._faults:
                raise self._faults[0]
            assert time.monotonic() < ends, f"{self.acknowledged} of {count} saves in {within} s"
            time.sleep(0.01)

    @contextmanager
    def at_work(self) -> Iterator[Crowd]:
        """The crowd at work as long as the block lasts."""
        # One sign-in serves them all: hashing is not what is tried here.
        self.browser = self._kept.someone(self._server)
        self._forms = {client.name: self._begin(client) for client in self.client_logs}
        for thread in self._threads:
            thread.start()
        try:
            yield self
        finally:
            self._stop.set()
            for thread in self._threads:
                thread.join()
        if self._faults:
            raise self._faults[0]

    def _begin(self, client: ClientLog) -> dict[str, str]:
        page = self.browser.get(f"/heads/{client.tag}/test")
        return typed_in(page.text, f"/heads/{client.tag}/test/results")

    def _work(self, client: ClientLog) -> None:
        try:
            while not self._stop.is_set():
                self._save_customer(client)
                self._save_reading(client)
        except BaseException as error:
            self._faults.append(error)

    def _save_customer(self, client: ClientLog) -> None:
        said_name = f"{client.name} {time.monotonic_ns()}"
        answer = self._send(client, "/customers/new", {"name": said_name, "notes": said_name})
        if answer is not None and answer.status == 302:
            client.customers.append(said_name)
            client.acknowledged += 1

    def _save_reading(self, client: ClientLog) -> None:
        client.sent += 1
        form = {**self._forms[client.name], READING: str(client.sent)}
        answer = self._send(client, f"/heads/{client.tag}/test/results", form)
        if answer is not None and answer.status == 200:
            assert answer.headers["X-Kept"]
            client.reading = client.sent
            client.acknowledged += 1

    def _send(self, client: ClientLog, path: str, values: dict[str, str]) -> Answer | None:
        """Send a form, and again as long as it is put off; what came, None where nothing did."""
        while not self._stop.is_set():
            try:
                answer = self.browser.post(path, values)
            except (OSError, http.client.HTTPException):
                client.cut_off += 1
                time.sleep(0.05)
                return None
            if answer.status != 503:
                assert answer.status in (200, 302), f"{answer.status}: {answer.text[-1500:]}"
                return answer
            client.put_off.append(answer)
            time.sleep(0.2)
        return None


def assert_nothing_is_lost(shop_copy: ShopCopy, crowd: Crowd) -> None:
    """Every save acknowledged is on file, whole; and nothing is there by half."""
    engine = shop_copy.engine()
    with session_factory(engine)() as db:
        rows = db.execute(select(Customer.id, Customer.name, Customer.notes)).all()
        logged = select(Event.subject_id).where(Event.subject == "customer", Event.verb == "added")
        added = list(db.scalars(logged))
        readings = {
            tag: test.typed
            for tag, test in db.execute(
                select(Visit.tag, TestDraft).join(Visit, TestDraft.job_head_id == Visit.id)
            )
        }
    engine.dispose()
    ours = {name: (key, notes) for key, name, notes in rows if name.startswith("client-")}
    for client in crowd.client_logs:
        assert set(client.customers) <= set(ours), f"lost: {set(client.customers) - set(ours)}"
        # What was sent last and got no answer may be there too, but nothing older.
        answer = readings.get(client.tag, {READING: "0"})[READING]
        assert client.reading <= int(answer) <= client.sent
    for name, (key, notes) in ours.items():
        assert notes == name
        assert added.count(key) == 1, f"{name} is there without its entry in the log"
