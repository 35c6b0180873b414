"""Fifty people at once on `shopflow serve`, against as many on the emptiest page."""

from __future__ import annotations

import http.client
import itertools
import re
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import contextmanager
from pathlib import Path
from urllib.parse import urlencode

from tests import factories
from tests.benchmarks.measuring import Bench, Row
from tests.benchmarks.pages import latest_tested
from tests.benchmarks.saving import test_being_taken
from tests.benchmarks.served import EMPTIEST, Served

PEOPLE = 50
EACH = 10
REQUESTS = 10_000
FORM = {"Content-Type": "application/x-www-form-urlencoded"}

Request = tuple[str, str, str]
"""Method, path, body."""


def measure(bench: Bench) -> Iterator[Row]:
    """The slowest twentieth of the answers; then what the server holds after 10,000 of them."""
    job, tag = latest_tested(Served(bench.folder, bench.large))
    people = max(4, int(PEOPLE * bench.scale))
    with _serving(bench) as (port, process):
        cookie = _sign_in(port)
        cookie, work = _mixed(port, cookie, job, tag)
        empty: Sequence[Request] = [("GET", EMPTIEST, "")]
        times = {True: [], False: []}  # type: dict[bool, list[float]]
        for _ in range(max(1, bench.rounds // 2)):
            for mixed in (False, True):
                chosen = work if mixed else empty
                times[mixed] += _crowd(port, cookie, chosen, people, EACH)
        name = f"{people} people at once, mixed work, p95"
        yield Row(name, "the emptiest page, as many", _p95(times[True]), _p95(times[False]), 5)
        warm = bench.count(REQUESTS) // people
        _crowd(port, cookie, work, people, max(1, warm // 5))
        before = _memory(process.pid)
        _crowd(port, cookie, work, people, warm)
        after = _memory(process.pid)
        what = f"memory after {warm * people} requests more"
        yield Row(what, "before them", after, before, 1.1, in_bytes=True)


def _mixed(port: int, cookie: str, job: str, tag: str) -> tuple[str, list[Request]]:
    """Looking at the floor, a job, a head; looking up; a value of a test kept."""
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request("GET", f"/heads/{tag}/test", headers={"Cookie": cookie})
    answer = connection.getresponse()
    # The form's token goes with the cookie that this page gives.
    cookie = (answer.getheader("Set-Cookie") or cookie).split(";")[0]
    typed = test_being_taken(answer.read().decode())
    stored: Request = ("POST", f"/heads/{tag}/test/results", urlencode(typed))
    looks = ["/", f"/jobs/{job}", f"/heads/{tag}", "/look-up?q=Hollin", "/jobs", "/engines"]
    return cookie, [("GET", path, "") for path in looks] + [stored, stored]


def _crowd(port: int, cookie: str, work: Sequence[Request], people: int, each: int) -> list[float]:
    """Seconds of every answer, `people` asking at once. Raises AssertionError on an error."""

    def person(number: int) -> list[float]:
        connection = http.client.HTTPConnection("127.0.0.1", port, timeout=120)
        rows = []
        for request in itertools.islice(itertools.cycle(work), number, number + each):
            started = time.perf_counter()
            _ask(connection, cookie, *request)
            rows.append(time.perf_counter() - started)
        connection.close()
        return rows

    with ThreadPoolExecutor(people) as pool:
        return [seconds for in_use in pool.map(person, range(people)) for seconds in in_use]


def _ask(
    connection: http.client.HTTPConnection, cookie: str, method: str, path: str, body: str = ""
) -> str:
    connection.request(method, path, body or None, {"Cookie": cookie, **FORM})
    answer = connection.getresponse()
    text = answer.read().decode()
    assert answer.status == 200, (method, path, answer.status)
    return text


def _sign_in(port: int) -> str:
    connection = http.client.HTTPConnection("127.0.0.1", port)
    connection.request("GET", "/sign-in")
    answer = connection.getresponse()
    cookie = (answer.getheader("Set-Cookie") or "").split(";")[0]
    token = re.search(r'name="csrf_token"[^>]*value="([^"]+)"', answer.read().decode())
    assert token
    body = urlencode({"login": "owner", "password": factories.PASSWORD, "csrf_token": token[1]})
    connection.request("POST", "/sign-in", body, {"Cookie": cookie, **FORM})
    answer = connection.getresponse()
    answer.read()
    assert answer.status == 302
    return (answer.getheader("Set-Cookie") or "").split(";")[0]


@contextmanager
def _serving(bench: Bench) -> Iterator[tuple[int, subprocess.Popen[bytes]]]:
    with socket.socket() as free:
        free.bind(("127.0.0.1", 0))
        port = free.getsockname()[1]
    command = [
        str(Path(sys.executable).with_name("shopflow")), "serve", "--data", str(bench.folder),
        "--database-url", bench.large, "--port", str(port),
    ]  # fmt: skip
    process = subprocess.Popen(command, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL)
    try:
        _until_up(port)
        yield port, process
    finally:
        process.send_signal(signal.SIGTERM)
        process.wait(timeout=30)


def _until_up(port: int) -> None:
    for _ in range(600):
        try:
            socket.create_connection(("127.0.0.1", port), timeout=1).close()
        except OSError:
            time.sleep(0.1)
        else:
            return
    raise AssertionError("the server did not start")


def _memory(pid: int) -> float:
    """Bytes that a process and those it started hold in memory, what they share counted once."""
    children = Path(f"/proc/{pid}/task/{pid}/children").read_text().split()
    rollups = [Path(f"/proc/{each}/smaps_rollup").read_text() for each in (str(pid), *children)]
    return sum(1024.0 * int(re.findall(r"^Pss: +(\d+)", text, re.M)[0]) for text in rollups)


def _p95(times: list[float]) -> float:
    return sorted(times)[int(len(times) * 0.95)]
