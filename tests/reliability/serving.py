"""The real server as its own process, and people who work at it over HTTP."""

from __future__ import annotations

import copy
import http.cookiejar
import io
import re
import signal
import subprocess
import sys
import tempfile
import time
import urllib.error
import urllib.parse
import urllib.request
from collections.abc import Callable, Iterator, Mapping
from contextlib import contextmanager, redirect_stderr, redirect_stdout
from dataclasses import dataclass, field
from email.message import Message
from pathlib import Path
from typing import Any

from lxml import html

from shopflow.cli import main
from tests.patience import PATIENCE
from tests.smtp import free_port

SHOPFLOW = Path(sys.executable).with_name("shopflow")


def run(*arguments: object) -> subprocess.CompletedProcess[str]:
    """One command of the program, run to its end in this process, which spares a start of Python.

    What it does not catch itself comes out of here.
    """
    command = [str(argument) for argument in arguments]
    out, err = io.StringIO(), io.StringIO()
    with redirect_stdout(out), redirect_stderr(err):
        status = main(command)
    return subprocess.CompletedProcess(command, status, out.getvalue(), err.getvalue())


@dataclass
class Server:
    """`shopflow serve` on a shop's folder; its words go to a log beside it."""

    folder: Path
    database_url: str = ""
    port: int = field(default_factory=free_port)
    before: tuple[str, ...] = ()
    """A command that runs it, such as one that watches what it does."""

    options: tuple[str, ...] = ()
    """More options of the command."""

    process: subprocess.Popen[bytes] | None = None
    logs: Path = field(default_factory=lambda: Path(tempfile.mkdtemp(prefix="serve-")))

    @property
    def address(self) -> str:
        """Address it serves."""
        return f"http://127.0.0.1:{self.port}"

    @property
    def log(self) -> Path:
        """Its log file."""
        return self.logs / f"serve-{self.port}.log"

    def start(self) -> None:
        """Start it and wait until it answers."""
        command = [*self.before, str(SHOPFLOW), "serve", "--data", str(self.folder)]
        command += ["--port", str(self.port), *self.options]
        if self.database_url:
            command += ["--database-url", self.database_url]
        with self.log.open("ab") as log:
            self.process = subprocess.Popen(command, stdout=log, stderr=log)
        self.wait_until_well()

    def wait_until_well(self, within: float = PATIENCE) -> None:
        """Wait until it says that its database answers."""
        ends = time.monotonic() + within
        while time.monotonic() < ends:
            assert self.process is None or self.process.poll() is None, self.log.read_text()
            try:
                with urllib.request.urlopen(f"{self.address}/health", timeout=5):
                    return
            except OSError:
                time.sleep(0.05)
        raise AssertionError(f"not well after {within} s: {self.log.read_text()[-2000:]}")

    def kill(self) -> None:
        """End it as a crash does: it gets no chance to do anything more."""
        assert self.process is not None
        self.process.kill()
        self.process.wait(PATIENCE)

    def stop(self) -> None:
        """End it as a service manager does."""
        if self.process is not None and self.process.poll() is None:
            self.process.send_signal(signal.SIGTERM)
            try:
                self.process.wait(PATIENCE)
            except subprocess.TimeoutExpired:
                self.kill()


@contextmanager
def serving(folder: Path, database_url: str = "", **rest: Any) -> Iterator[Server]:
    """A server for as long as the block lasts."""
    server = Server(folder, database_url, **rest)
    try:
        server.start()
        yield server
    finally:
        server.stop()


@dataclass(frozen=True)
class Answer:
    """Answer of the server."""

    status: int
    headers: Message
    text: str


class _Stay(urllib.request.HTTPRedirectHandler):
    def redirect_request(self, *_: Any) -> None:
        return None


class Browser:
    """Someone at a screen: keeps the sign-in, follows nothing by itself. Threads may share one."""

    def __init__(self, address: str, patience: float = PATIENCE) -> None:
        self.address = address
        self.patience = patience
        self.token = ""
        self._jar = http.cookiejar.CookieJar()
        self._opener = urllib.request.build_opener(
            urllib.request.HTTPCookieProcessor(self._jar), _Stay()
        )

    def at(self, address: str) -> Browser:
        """The same person, signed in the same way, at another address of the shop."""
        other = copy.copy(self)
        other.address = address
        return other

    def get(self, path: str) -> Answer:
        """A page."""
        return self._open(urllib.request.Request(self.address + path))

    def post(self, path: str, values: Mapping[str, str | list[str]]) -> Answer:
        """Send a form, with the token its page would have had."""
        body = urllib.parse.urlencode({"csrf_token": self.token, **values}, doseq=True).encode()
        return self._open(urllib.request.Request(self.address + path, body))

    def upload(self, path: str, content: bytes, name: str = "a.pdf") -> Answer:
        """Send a file."""
        mark = "part-of-a-form"
        head = (
            f'--{mark}\r\nContent-Disposition: form-data; name="csrf_token"\r\n\r\n{self.token}\r\n'
            f'--{mark}\r\nContent-Disposition: form-data; name="files"; filename="{name}"\r\n\r\n'
        )
        body = head.encode() + content + f"\r\n--{mark}--\r\n".encode()
        request = urllib.request.Request(self.address + path, body)
        request.add_header("Content-Type", f"multipart/form-data; boundary={mark}")
        return self._open(request)

    def sign_in(self, login: str, password: str) -> None:
        """Sign in, and take the token that goes with the new session."""
        self.token = token_of(self.get("/sign-in").text)
        answer = self.post("/sign-in", {"login": login, "password": password})
        assert answer.status == 302, answer.text[-2000:]
        self.token = token_of(self.get("/customers/new").text)
        # Notices wait in the cookie for a page that shows them, and nobody here looks at pages.
        cookies = "; ".join(f"{cookie.name}={cookie.value}" for cookie in self._jar)
        self._opener = urllib.request.build_opener(_Stay())
        self._opener.addheaders = [("Cookie", cookies)]

    def _open(self, request: urllib.request.Request) -> Answer:
        try:
            with self._opener.open(request, timeout=self.patience) as answer:
                return Answer(answer.status, answer.headers, answer.read().decode())
        except urllib.error.HTTPError as answer:
            with answer:
                return Answer(answer.code, answer.headers, answer.read().decode())


def token_of(page: str) -> str:
    """The token in a page's form."""
    match = re.search('name="csrf_token" value="([^"]+)"', page)
    assert match, page[-2000:]
    return match[1]


def booking(form: Mapping[str, str], customer: str) -> dict[str, str]:
    """The form of a booking filled in: a new customer, and a new head of an engine type on file."""
    return {
        **form,
        "customer-name": customer,
        "customer_id": "new",
        "engine_type_id": "1",
        "heads-0-serial": f"of {customer}",
        "heads-0-head_id": "new",
    }


def until_taken(act: Callable[[], Answer]) -> Answer:
    """Repeat an act as long as the server puts it off, as its page does; return the answer."""
    ends = time.monotonic() + PATIENCE
    while (answer := act()).status == 503 and time.monotonic() < ends:
        time.sleep(0.2)
    return answer


def wait_until(so: Callable[[], bool], within: float = PATIENCE) -> None:
    """Wait until something is so."""
    ends = time.monotonic() + within
    while not so():
        assert time.monotonic() < ends, f"it did not come within {within} s"
        time.sleep(0.05)


def typed_in(page: str, address: str) -> dict[str, str]:
    """Values of the fields of the form that a page at, or leading to, an address posts."""
    posting = [form for form in html.fromstring(page).findall(".//form") if form.method == "POST"]
    named = [form for form in posting if address in (form.action, form.get("data-worked-out"))]
    (form,) = named or [form for form in posting if form.action is None]
    return {name: str(value) for name, value in form.form_values()}
