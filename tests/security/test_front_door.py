"""Attacks on the server before any page is asked: bodies, slowness, connections.

Over real sockets, against the server that `shopflow serve` runs.
"""

from __future__ import annotations

import http.client
import io
import socket
import time
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from functools import partial

import pytest
from flask import Flask, request
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import LoginSession
from shopflow.services.accounts import login_sessions
from shopflow.serving.limits import Allowance, Limits
from shopflow.web.limits import DOCUMENT, STRANGERS, USUAL
from tests.factories import BY
from tests.listening import listening
from tests.patience import PATIENCE
from tests.security.one_of_everything import OneOfEverything
from tests.web.client import Client

MUCH = 15_000_000
"""Bytes: more than sockets hold, and less than makes waitress wait."""

FORM = "Content-Type: application/x-www-form-urlencoded"


def opened(port: int, first: bytes = b"") -> socket.socket:
    """A connection on which something was sent."""
    line = socket.create_connection(("127.0.0.1", port), timeout=PATIENCE)
    line.sendall(first)
    return line


def answer_on(line: socket.socket) -> str:
    """All that the server says until it ends the connection."""
    with line:
        return b"".join(iter(partial(line.recv, 65536), b"")).decode()


def length_left(line: socket.socket) -> int:
    """Number of bytes that still come, however the connection ends."""
    length = 0
    with suppress(OSError):
        while got := len(line.recv(65536)):
            length += got
    return length


def post(path: str, *headers: str, body: bytes = b"") -> bytes:
    """A request that posts, as it goes over the line."""
    lines = [f"POST {path} HTTP/1.1", "Host: heads.example", FORM, *headers, "", ""]
    return "\r\n".join(lines).encode() + body


def chunks(size: int) -> bytes:
    """A chunked body, not ended."""
    return b"10000\r\n" + b"x" * 0x10000 + b"\r\n" if size <= 0x10000 else b"".join(
        [chunks(0x10000)] * (-(-size // 0x10000))
    )  # fmt: skip


def cookie_of(client: Client) -> str:
    """The header that keeps a client signed in."""
    cookie = client.get_cookie("shopflow")
    assert cookie is not None
    return f"Cookie: shopflow={cookie.value}"


@pytest.fixture
def port(web_app: Flask, db: Session, everything: OneOfEverything, client: Client) -> Iterator[int]:
    """Port of the program itself, with a shop that has one of everything."""
    db.commit()
    with listening(web_app, threads=2) as port:
        yield port


@pytest.mark.parametrize(
    ("path", "most"),
    [("/sign-in", STRANGERS), ("/jobs/new", STRANGERS), ("/verify/file", DOCUMENT)],
)
def test_a_strangers_body_is_refused_by_its_headers_alone(port: int, path: str, most: int):
    """Guard: `limits.allowance`. 300 MB were spooled before the app refused them."""
    answer = answer_on(opened(port, post(path, f"Content-Length: {most + 1}")))
    assert answer.startswith("HTTP/1.1 413 ")
    assert "Upload too large" in answer
    answer = answer_on(
        opened(port, post(path, "Content-Length: 300000000", "Expect: 100-continue"))
    )
    assert answer.startswith("HTTP/1.1 413 ")


def test_a_chunked_body_is_refused_once_it_is_larger(port: int):
    """Guard: `ArrivingRequest._refuse`. Its length is told nowhere, so it is counted."""
    line = opened(port, post("/sign-in", "Transfer-Encoding: chunked", body=chunks(STRANGERS + 1)))
    answer = answer_on(line)
    assert answer.startswith("HTTP/1.1 413 ")
    assert "Upload too large" in answer


def test_who_sends_all_of_a_refused_body_before_reading_still_gets_the_answer(port: int):
    """Guard: `Connection.handle_write`. A reset would show as a broken connection, not as words."""
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    line.request("POST", "/sign-in", b"x" * 30_000_000)
    answer = line.getresponse()
    assert answer.status == 413
    assert b"Upload too large" in answer.read()
    line.close()


def test_a_user_may_send_more_and_photos_most(
    port: int, db: Session, client: Client, stranger: Client, everything: OneOfEverything
):
    """The larger caps are for an open login session, not for any cookie."""
    own, other = cookie_of(client), "Cookie: shopflow=eyJsb2dpbiI6IngifQ.aaaa.bbbb"
    stranger.get("/sign-in")
    add = f"/jobs/{everything.job.number}/files/add"
    db.commit()
    for path, size in (("/customers/new", USUAL), (add, 200_000_000)):
        for cookie, expected in (
            (own, "100 Continue"),
            (other, "413 "),
            (cookie_of(stranger), "413 "),
        ):
            headers = (cookie, f"Content-Length: {size}", "Expect: 100-continue")
            with opened(port, post(path, *headers)) as line:
                assert line.recv(4096).startswith(f"HTTP/1.1 {expected}".encode()), (path, cookie)
    answer = answer_on(opened(port, post("/customers/new", own, f"Content-Length: {USUAL + 1}")))
    assert answer.startswith("HTTP/1.1 413 ")
    # Ended for good, it is a stranger's.
    for row in db.scalars(select(LoginSession)):
        login_sessions.end(row, BY.at)
    db.commit()
    answer = answer_on(opened(port, post(add, own, "Content-Length: 200000000")))
    assert answer.startswith("HTTP/1.1 413 ")


def test_a_whole_upload_gets_through_sent_in_chunks(
    port: int, client: Client, everything: OneOfEverything
):
    add = f"/jobs/{everything.job.number}/files/add"
    token = client.page(add).form().fields["csrf_token"]
    note = b"44 mm intake valve, seat cut at 45 degrees.\n" * 20_000
    fields = {"csrf_token": token, "files": (io.BytesIO(note), "note.txt")}
    with client.application.test_request_context(add, method="POST", data=fields) as context:
        content_type, body = request.content_type, context.request.get_data()
    line = http.client.HTTPConnection("127.0.0.1", port, timeout=PATIENCE)
    name, _, value = cookie_of(client).partition(": ")
    line.request("POST", add, iter([body]), {"Content-Type": content_type or "", name: value},
                 encode_chunked=True)  # fmt: skip
    answer = line.getresponse()
    answer.read()
    line.close()
    assert answer.status == 302
    assert "note.txt" in client.page(f"/jobs/{everything.job.number}").text


def small_app() -> tuple[Flask, list[str]]:
    """An app that notes what it is asked, and answers with much at one address."""
    app, asked = Flask("small"), []  # type: tuple[Flask, list[str]]

    @app.route("/", methods=["GET", "POST"])
    def index() -> str:
        asked.append(request.method)
        return f"read {len(request.get_data())}"

    @app.route("/much")
    def much() -> str:
        return "x" * MUCH

    return app, asked


@contextmanager
def holding(port: int, count: int, first: bytes) -> Iterator[list[socket.socket]]:
    """So many connections at once, each of which has sent the same."""
    with ExitStack() as stack:
        yield [stack.enter_context(opened(port, first)) for _ in range(count)]


def ask(port: int) -> str:
    """The first line of an answer to an ordinary request."""
    with suppress(ConnectionError):
        line = opened(port, b"GET / HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n")
        return answer_on(line).partition("\r\n")[0]
    return ""


def test_nothing_of_a_refused_body_is_taken_for_a_request():
    app, asked = small_app()
    inside = b"GET / HTTP/1.1\r\nHost: x\r\n\r\n"
    with listening(app) as port:
        answer = answer_on(opened(port, post("/", "Content-Length: 9000000", body=inside * 20)))
    assert answer.count("HTTP/1.1") == 1
    assert asked == ["POST"]


def test_what_is_too_slow_is_given_up():
    """Guards: `Connection.check`, `ArrivingRequest.is_overdue`. None of it holds a thread."""
    app, asked = small_app()
    limits = Limits(
        small=Allowance(1000, 0.3), header_seconds=0.3, idle_seconds=0.3, stalled_seconds=0.3
    )
    with listening(app, limits=limits) as port, ExitStack() as stack:
        lines = {
            "headers": b"GET / HTTP/1.1\r\nHost: x\r\nX-Slow: ",
            "body": post("/", "Content-Length: 900", body=b"a"),
            "nothing": b"",
        }
        slow = {name: stack.enter_context(opened(port, sent)) for name, sent in lines.items()}
        answers = {name: answer_on(line) for name, line in slow.items()}
        for name in ("headers", "body"):
            assert answers[name].startswith(("HTTP/1.0 408", "HTTP/1.1 408")), name
            assert "took too long" in answers[name]
        assert answers["nothing"] == ""
        # Who stops reading an answer is left with what the network held by then.
        reader = stack.enter_context(socket.socket())
        reader.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 4096)
        reader.connect(("127.0.0.1", port))
        reader.sendall(b"GET /much HTTP/1.1\r\nHost: x\r\n\r\n")
        reader.recv(1)
        answer_on(opened(port, lines["headers"]))
        assert length_left(reader) < MUCH
        assert ask(port) == "HTTP/1.1 200 OK"
    assert asked == ["GET"]


def test_twenty_dripping_bodies_keep_nobody_waiting():
    """With one thread to answer: a body is waited for by no thread."""
    app, _ = small_app()
    with listening(app) as port, holding(port, 20, post("/", "Content-Length: 900")) as lines:
        for turn in range(3):
            for line in lines:
                line.sendall(b"a" * (turn + 1))
            assert ask(port) == "HTTP/1.1 200 OK"


def test_one_address_opens_so_many_connections_and_no_more():
    """Guard: `Door.lets_in`; of 200 slow ones, all but a few are shut at once."""
    app, _ = small_app()
    limits = Limits(per_address=5)
    slow = b"GET / HTTP/1.1\r\nX-Slow: "
    with listening(app, limits=limits) as port:
        with holding(port, 5, slow):
            assert "429" in answer_on(opened(port))
        # Those who left make room.
        until = time.monotonic() + PATIENCE
        while ask(port) != "HTTP/1.1 200 OK":
            assert time.monotonic() < until
    # A proxy brings everybody, and counts them itself.
    with listening(app, limits=limits, proxy="127.0.0.1") as port, holding(port, 20, slow):
        assert ask(port) == "HTTP/1.1 200 OK"


def test_when_all_places_are_taken_the_one_idle_longest_makes_room():
    """Guard: `Door.lets_in`; 200 that say nothing shut nobody out, wherever they come from."""
    app, _ = small_app()
    slow = b"GET / HTTP/1.1\r\nX-Slow: "
    limits = Limits(per_address=300, in_all=50)
    with listening(app, limits=limits) as port, holding(port, 200, slow) as lines:
        assert ask(port) == "HTTP/1.1 200 OK"
        assert lines[0].recv(1) == b""


def test_few_larger_bodies_of_strangers_come_in_at_once(
    web_app: Flask, db: Session, everything: OneOfEverything
):
    """Guard: `ArrivingRequest._wait_for_others`: what strangers have spooled is bounded in all."""
    large = post("/verify/file", f"Content-Length: {DOCUMENT}", body=b"x")
    db.commit()
    with listening(web_app, limits=Limits(large_bodies=2)) as port, holding(port, 2, large):
        answer = answer_on(opened(port, large))
        assert answer.startswith("HTTP/1.1 503 ")
        assert "Try again in a minute" in answer
