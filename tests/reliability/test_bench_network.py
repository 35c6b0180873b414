"""The bench without its network: readings wait in the journal, and are in the test once, in order.

The server is real and on a real socket; between it and the agent stands a relay that is unplugged:
it hangs up on everybody, or swallows the answer after the server has done the work.
"""

from __future__ import annotations

import socket
import socketserver
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path

from sqlalchemy import select

from shopflow import create_app
from shopflow.bench_agent.journal import Journal
from shopflow.bench_agent.posting import Poster, Server
from shopflow.config import DATABASE_FILE, Settings
from shopflow.database import session_factory
from shopflow.models import ApiRequest, Capture, Role, TestDraft
from shopflow.services.accounts import api_tokens
from shopflow.services.actor import Actor
from shopflow.services.bench import test_drafts
from tests import factories
from tests.listening import listening
from tests.patience import PATIENCE
from tests.web.test_api_readings import reading

KEY = "a-test"
ROWS = {f"rows-{row}-lift": f"0.{row + 1}" for row in range(8)}


class Relay(socketserver.ThreadingTCPServer):
    """Passes bytes on to a server, unless it is unplugged."""

    daemon_threads = True
    allow_reuse_address = True

    def __init__(self, port: int) -> None:
        super().__init__(("127.0.0.1", 0), _Line)
        self.behind = port
        self.plugged = True
        self.swallows_answers = False


class _Line(socketserver.BaseRequestHandler):
    server: Relay

    def handle(self) -> None:
        if not self.server.plugged:
            return
        with socket.create_connection(("127.0.0.1", self.server.behind)) as behind:
            sender = threading.Thread(target=self._forward, args=(self.request, behind))
            sender.start()
            self._forward(behind, self.request, is_answer=True)
            sender.join(PATIENCE)

    def _forward(
        self, source: socket.socket, target: socket.socket, is_answer: bool = False
    ) -> None:
        try:
            while content := source.recv(65_536):
                if is_answer and (self.server.swallows_answers or not self.server.plugged):
                    break
                target.sendall(content)
        except OSError:
            pass
        for end in (source, target):
            try:
                end.shutdown(socket.SHUT_RDWR)
            except OSError:
                continue


@contextmanager
def relayed(port: int) -> Iterator[Relay]:
    with Relay(port) as relay:
        thread = threading.Thread(target=relay.serve_forever, args=(0.02,))
        thread.start()
        yield relay
        relay.shutdown()
        thread.join()


def until(is_so: Callable[[], object]) -> None:
    """Wait for something to come true."""
    end = time.monotonic() + PATIENCE
    while not is_so():
        assert time.monotonic() < end
        time.sleep(0.02)


def test_nothing_is_lost_and_nothing_comes_twice_when_the_network_goes(
    tmp_path: Path, migrated_file: Path
):
    folder = tmp_path / "shop"
    settings = Settings.for_folder(folder)
    (folder / DATABASE_FILE).write_bytes(migrated_file.read_bytes())
    app = create_app(settings)
    engine = app.extensions["shopflow.engine"]
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        owner = Actor.now(factories.create_person(db, Role.OWNER))
        bench, visit = factories.create_bench(db), factories.create_visit(db)
        values = factories.token_values("bench", bench=bench.id)
        secret, tag = api_tokens.make(db, owner, values)[1], visit.tag
        typed = {**ROWS, "lift_unit": "in", "flow_unit": "cfm", "bench-name": bench.name,
                 "bench-test_pressure": "28 inH2O", "side": "intake"}  # fmt: skip
        test_drafts.keep(db, owner, visit, key=KEY, writer="page", seen=0, typed=typed)
    heard: list[str] = []
    path = f"/api/1/visits/{tag}/readings"
    journal = Journal(tmp_path / "journal.jsonl")
    with listening(app, threads=2) as port, relayed(port) as relay:
        address = f"http://127.0.0.1:{relay.server_address[1]}"
        poster = Poster(journal, Server(address, secret), heard.append)
        poster.start()
        journal.add(path, reading(KEY, "0.1 in"))
        poster.wake()
        until(lambda: not len(journal))
        # The answer to what was done is lost: it is sent again, and is in the test once.
        relay.swallows_answers = True
        journal.add(path, reading(KEY, "0.2 in"))
        poster.wake()
        until(lambda: heard)
        # Unplugged altogether; readings go on.
        relay.plugged, relay.swallows_answers = False, False
        for lift in ("0.3 in", "0.4 in", "0.5 in"):
            journal.add(path, reading(KEY, lift))
            poster.wake()
        time.sleep(0.3)
        assert len(journal) == 4
        # The agent ends, and another begins on the journal: the network is back.
        poster.end(patience=PATIENCE)
        journal.close()
        journal = Journal(tmp_path / "journal.jsonl")
        assert len(journal) == 4
        relay.plugged = True
        again = Poster(journal, Server(address, secret), heard.append)
        again.start()
        until(lambda: not len(journal))
        again.end(patience=PATIENCE)
    with session_factory(engine)() as db:
        rows = db.scalars(select(Capture).order_by(Capture.id)).all()
        assert [row.lift for row in rows] == [f"0.{count} in" for count in range(1, 6)]
        assert len(db.scalars(select(ApiRequest)).all()) == 5
        draft = db.scalars(select(TestDraft)).one()
        cells = [draft.typed.get(f"rows-{row}-first", "") for row in range(5)]
        assert cells == ["212.34 @ 28.02"] * 5
        assert draft.reading_count == 5
    assert not journal.refused
    journal.close()
    assert any("cannot be reached" in words for words in heard)
    engine.dispose()


def test_a_page_in_between_gets_no_reading_settled_and_is_not_followed(tmp_path: Path):
    """As of a network's own sign-in page: it is not the server, and the reading waits."""
    redirect = b"HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:1/\r\n\r\n"
    journal = Journal(tmp_path / "journal.jsonl")
    heard: list[str] = []
    with socket.create_server(("127.0.0.1", 0)) as stranger:

        def answer() -> None:
            connection, _ = stranger.accept()
            with connection:
                connection.recv(65_536)
                connection.sendall(redirect)

        thread = threading.Thread(target=answer)
        thread.start()
        server = Server(f"http://127.0.0.1:{stranger.getsockname()[1]}", "secret")
        poster = Poster(journal, server, heard.append)
        journal.add("/api/1/visits/x/readings", {})
        poster.start()
        until(lambda: heard)
        thread.join()
    poster.end(patience=PATIENCE)
    assert (len(journal), journal.refused) == (1, [])
    journal.close()
