"""Posting of the journal: in order, each until the server has said yes or no."""

from __future__ import annotations

import http.client
import json
import threading
import urllib.error
import urllib.request
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from typing import Any
from urllib.parse import urlsplit

from shopflow.bench_agent.journal import Entry, Journal
from shopflow.errors import ShopflowError
from shopflow.texts import gettext

PATIENCE = 10.0
PAUSES = (0.2, 0.5, 1.0, 2.0, 5.0, 15.0, 30.0)
"""Seconds between tries while the server is out of reach."""

CREATED = 201
REFUSALS = frozenset({400, 403, 404, 409, 413, 415, 422})
"""Problems that are about the reading. After any other answer it waits: a token that has expired is
renewed by a person, and a page in between, as of a network's own sign-in, is not the server."""


class UnreachableError(ShopflowError):
    """The server did not answer, or cannot just now."""


@dataclass(frozen=True, slots=True)
class Answer:
    """Answer of the server."""

    status: int
    content: Mapping[str, Any]

    @property
    def detail(self) -> str:
        """A problem in words, with the fields at fault."""
        errors = self.content.get("errors") or ()
        fields = [f"{item.get('field')}: {item.get('detail')}" for item in errors]
        return " ".join([str(self.content.get("detail", self.status)), *fields])


class _NoRedirects(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *arguments: Any, **named: Any) -> None:
        """Follow none: the token is for this server alone."""


class Server:
    """The programming interface of a shop, as one token sees it."""

    def __init__(self, address: str, token: str) -> None:
        if urlsplit(address).scheme not in ("http", "https"):
            raise ShopflowError(gettext("enter the server like http://shop.lan:8080"))
        self._address = address.rstrip("/")
        self._token = token
        self._opener = urllib.request.build_opener(_NoRedirects)

    def get(self, path: str) -> Answer:
        """The record at a path. Raises UnreachableError."""
        return self._send(urllib.request.Request(self._address + path))

    def post(self, entry: Entry) -> Answer:
        """Post a reading under its key. Raises UnreachableError."""
        data = json.dumps(entry.body).encode()
        request = urllib.request.Request(self._address + entry.path, data, method="POST")
        request.add_header("Content-Type", "application/json")
        request.add_header("Idempotency-Key", entry.key)
        return self._send(request)

    def _send(self, request: urllib.request.Request) -> Answer:
        request.add_header("Authorization", f"Bearer {self._token}")
        try:
            with self._opener.open(request, timeout=PATIENCE) as answer:
                return Answer(answer.status, json.loads(answer.read()))
        except urllib.error.HTTPError as error:
            with error:
                return Answer(error.code, _problem(error))
        except (OSError, http.client.HTTPException, ValueError) as error:
            raise UnreachableError(str(error) or type(error).__name__) from None


def _problem(error: urllib.error.HTTPError) -> Mapping[str, Any]:
    try:
        content = json.loads(error.read())
    except (OSError, http.client.HTTPException, ValueError):
        return {}
    return content if isinstance(content, dict) else {}


class Poster(threading.Thread):
    """Posts in the background; `tell` hears of each reading taken or refused, and of outages."""

    def __init__(self, journal: Journal, server: Server, tell: Callable[[str], None]) -> None:
        super().__init__(daemon=True, name="poster")
        self._journal = journal
        self._server = server
        self._tell = tell
        self._woken = threading.Condition()
        self._ended = False
        self._is_away = False

    def wake(self) -> None:
        """Look into the journal now."""
        with self._woken:
            self._woken.notify()

    def end(self, patience: float = 5.0) -> None:
        """Post what can be posted within some seconds, and stop."""
        with self._woken:
            self._ended = True
            self._woken.notify()
        self.join(patience)

    def run(self) -> None:
        """Post until told to end."""
        tries = 0
        while True:
            entry = self._next()
            if entry is None:
                return
            if self._post(entry):
                tries = 0
                continue
            with self._woken:
                if self._ended:
                    return
                self._woken.wait(PAUSES[min(tries, len(PAUSES) - 1)])
            tries += 1

    def _next(self) -> Entry | None:
        """The oldest reading of the journal, waited for; None once there is none and it ends.

        Looked for under the lock that `wake` takes: a reading added in between is not slept over.
        """
        with self._woken:
            while (entry := self._journal.first()) is None and not self._ended:
                self._woken.wait()
            return entry

    def _post(self, entry: Entry) -> bool:
        """Try once; True where the reading is settled."""
        try:
            answer = self._server.post(entry)
        except UnreachableError as error:
            return self._away(str(error))
        if answer.status == CREATED:
            self._journal.settle(entry, answer.status)
            self._is_away = False
            return True
        if answer.status not in REFUSALS or answer.content.get("status") != answer.status:
            return self._away(answer.detail)
        self._journal.settle(entry, answer.status, answer.detail)
        self._tell(gettext("REFUSED by the server, not in the test: {words}", words=answer.detail))
        return True

    def _away(self, words: str) -> bool:
        if not self._is_away:
            self._tell(
                gettext("The server cannot be reached ({words}). Readings are kept in the journal.",
                        words=words)
            )  # fmt: skip
        self._is_away = True
        return False
