"""Address of a client, through the real server, with a proxy in front and without.

Guard: `serving.door.open_door`. Without it, a header chooses the address that wrong passwords are
counted by, or all visitors behind a proxy count as one.
"""

from __future__ import annotations

import http.client
from collections.abc import Callable, Iterator
from contextlib import contextmanager

import pytest
from flask import Flask, request

from tests.listening import listening

Asks = Callable[[dict[str, str]], str]


@contextmanager
def asking(proxy: str) -> Iterator[Asks]:
    """A server with this proxy in front, that says who it takes the visitor for."""
    app = Flask("who")
    app.add_url_rule("/", view_func=lambda: f"{request.remote_addr} {request.host}")
    with listening(app, proxy=proxy) as port:

        def ask(headers: dict[str, str]) -> str:
            line = http.client.HTTPConnection("127.0.0.1", port, timeout=60)
            line.request("GET", "/", headers={"Host": "heads.example", **headers})
            text = line.getresponse().read().decode()
            line.close()
            return text

        yield ask


@pytest.mark.parametrize("proxy", ["", "10.1.2.3"], ids=["no proxy", "a proxy elsewhere"])
def test_a_visitor_cannot_choose_where_to_come_from(proxy: str):
    with asking(proxy) as ask:
        for header in ("X-Forwarded-For", "Forwarded", "X-Real-IP"):
            assert ask({header: "198.51.100.7"}) == "127.0.0.1 heads.example"
        assert ask({"X-Forwarded-Host": "elsewhere.test"}) == "127.0.0.1 heads.example"


def test_the_proxy_named_is_believed_of_its_visitor_and_of_nothing_else():
    """The last address is the one that the proxy saw; those before are the visitor's own words."""
    with asking("127.0.0.1") as ask:
        assert ask({"X-Forwarded-For": "198.51.100.7"}) == "198.51.100.7 heads.example"
        answer = ask({"X-Forwarded-For": "203.0.113.9, 198.51.100.7"})
        assert answer == "198.51.100.7 heads.example"
        assert ask({"X-Forwarded-Host": "elsewhere.test"}) == "127.0.0.1 heads.example"
