"""Anything at all, sent to everything that reads: no failure, no hang, no growth.

A quick share runs with the suite. The whole, above 100,000 cases, runs by

    bash tests/run -m long tests/security

A failure names the case's number and the seed (SHOPFLOW_FUZZ_SEED chooses another), from which the
case can be made again. The bound on memory is stated beside each; it was chosen for an interpreter
whose caches are still filling, at about a tenth of what keeping every case would take.
"""

from __future__ import annotations

import random
import re
import subprocess
import sys
from collections.abc import Callable
from contextlib import redirect_stderr, redirect_stdout, suppress
from io import BytesIO, StringIO
from pathlib import Path

import pytest
from _pytest.mark import ParameterSet
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.routing import Rule

from shopflow.cli import main
from shopflow.errors import ValidationError
from shopflow.services.fields import quantity
from shopflow.services.imports import kinds
from shopflow.testfile import check, dumps, loads
from tests.patience import PATIENCE
from tests.security.fuzzing import anything, run, session_files, spoil
from tests.security.one_of_everything import OneOfEverything, rules, takes
from tests.web.client import Client

pytestmark = pytest.mark.slow


def shares(long: int) -> list[ParameterSet]:
    """A test's cases once over, with the suite, and so often over, in the long run."""
    return [pytest.param(1, id="quick"), pytest.param(long, id="long", marks=pytest.mark.long)]


GROWTH = 48.0
"""Megabytes that memory may grow by over a run, caches of the interpreter and database included."""

APART = {
    "account.sign_out", "account.sign_out_everywhere", "account.end_sign_in", "account.confirm",
    "account.me", "users.sign_out_everywhere", "users.person", "users.password", "shop.make_key",
    "static", "assets.font",
}  # fmt: skip
"""Endpoints that would sign the test out, leave a key behind, or are no page."""


@pytest.fixture
def quiet(web_app: Flask, client: Client, monkeypatch: pytest.MonkeyPatch) -> Client:
    """The owner, whose posts need no token: what is behind it is tried."""
    monkeypatch.setitem(web_app.config, "WTF_CSRF_ENABLED", False)
    monkeypatch.setattr(web_app, "testing", False)
    monkeypatch.setitem(web_app.config, "PROPAGATE_EXCEPTIONS", True)
    return client


@pytest.mark.parametrize("times", shares(100))
def test_session_files(times: int):
    """600 times over: read or refused with faults in words; what is read can be written again."""
    texts = session_files()

    def attempt(chosen: random.Random) -> None:
        content = spoil(chosen.choice(texts), chosen)
        try:
            document = loads(content)
        except ValidationError as error:
            refused = error
        else:
            assert loads(dumps(document)) == document
            return
        assert all(fault.message.strip() for fault in refused.faults)

    assert run(600 * times, attempt) < GROWTH


@pytest.mark.parametrize("times", shares(100))
def test_a_mapping_of_anything(times: int):
    """200 times over: what a form may send in place of a session file."""
    keys = [
        "schema",
        "side",
        "air",
        "valve",
        "bench",
        "readings",
        "head",
        "stage",
        "areas",
        "meter",
    ]

    def value(chosen: random.Random, depth: int = 0) -> object:
        match chosen.randrange(6 if depth < 3 else 3):
            case 0 | 1:
                return anything(chosen)
            case 2:
                return chosen.choice([None, True, 0, -1, 1e308, float("nan"), 10**40, b"x"])
            case 3:
                return [value(chosen, depth + 1) for _ in range(chosen.randrange(4))]
            case _:
                names = [*keys, "lift", "flow", "barometer", "temperature", anything(chosen)]
                return {chosen.choice(names): value(chosen, depth + 1) for _ in range(3)}

    def attempt(chosen: random.Random) -> None:
        content = {key: value(chosen) for key in chosen.sample(keys, chosen.randrange(10))}
        with suppress(ValidationError):
            check(content)

    assert run(200 * times, attempt) < GROWTH


@pytest.mark.parametrize("times", shares(60))
def test_quantities_as_typed(times: int):
    """400 times over: a number and a unit, kept as typed or refused by ValueError in words."""

    def attempt(chosen: random.Random) -> None:
        typed = anything(chosen) + chosen.choice(["", " ", " mm", " in", " cfm", " kPa", "e5 mm"])
        for dimension in ("length", "pressure", "volume flow"):
            try:
                answer = quantity(dimension)(typed)
            except ValueError as error:
                refused = str(error)
            else:
                assert answer is None or str(answer) == typed.strip()
                continue
            assert refused.strip()

    assert run(400 * times, attempt) < GROWTH


def getting(app: Flask) -> list[Rule]:
    """Rules of pages."""
    return [
        rule
        for rule in rules(app)
        if takes(rule, "GET")
        and rule.endpoint not in APART
        and not rule.endpoint.startswith(("papers", "drafts.preview", "customer_view.certificate"))
    ]


@pytest.mark.parametrize("times", shares(60))
def test_query_strings(web_app: Flask, quiet: Client, everything: OneOfEverything, times: int):
    """150 times over: every page, asked with fields of anything."""
    pages = getting(web_app)
    names = ["q", "s", "like", "head", "operation", "side", "stage", "over", "range", "code", "at",
             "next", "from", "to", "kind", "lift", "skip", "kin", "after", "bore"]  # fmt: skip

    def attempt(chosen: random.Random) -> None:
        rule = chosen.choice(pages)
        query = [(chosen.choice(names), anything(chosen)) for _ in range(chosen.randrange(5))]
        answer = quiet.get(everything.address(rule), query_string=query)
        assert answer.status_code < 500, (rule.endpoint, query)

    assert run(150 * times, attempt) < GROWTH


@pytest.mark.parametrize("times", shares(60))
def test_forms(web_app: Flask, quiet: Client, everything: OneOfEverything, times: int):
    """120 times over: every form, its own fields filled with anything, some left out or doubled."""
    posting = [
        rule for rule in rules(web_app) if takes(rule, "POST") and rule.endpoint not in APART
    ]
    fields: dict[str, list[str]] = {}
    if quiet.release_writes is not None:
        quiet.release_writes()

    def attempt(chosen: random.Random) -> None:
        rule = chosen.choice(posting)
        address = everything.address(rule)
        if rule.endpoint not in fields:
            page = quiet.get(address) if takes(rule, "GET") else None
            result = set(re.findall(r' name="([^"]+)"', page.text)) if page is not None else set()
            fields[rule.endpoint] = sorted(result | {"reason", "state", "version"})
        sent = [(name, anything(chosen)) for name in fields[rule.endpoint] if chosen.random() < 0.8]
        sent += [(chosen.choice(fields[rule.endpoint]), anything(chosen))]
        if chosen.random() < 0.3:
            sent = [(name, value) for name, value in sent if chosen.random() < 0.5]
        data: dict[str, list[str]] = {}
        for name, value in sent:
            data.setdefault(name, []).append(value)
        # Not the checking client: what is drawn anew of a bench entry is a piece of a page.
        answer = FlaskClient.open(quiet, address, method="POST", data=data)
        assert answer.status_code < 500, (rule.endpoint, data)

    assert run(120 * times, attempt) < GROWTH


@pytest.mark.parametrize("times", shares(20))
def test_uploaded_session_files(
    web_app: Flask, quiet: Client, everything: OneOfEverything, times: int
):
    """30 times over: spoilt files through the page that takes them in."""
    texts = session_files()
    address = f"/heads/{everything.places['tag']}/test/file"

    def attempt(chosen: random.Random) -> None:
        content = spoil(chosen.choice(texts), chosen)
        data = {"file": (BytesIO(content), anything(chosen) + ".toml")}
        assert quiet.post(address, data=data).status_code < 500

    assert run(30 * times, attempt) < GROWTH


@pytest.mark.parametrize("times", shares(20))
def test_the_command_that_reduces_a_file(tmp_path: Path, times: int):
    """60 times over: `shopflow reduce`, in this process: 0, or 1 and 2 with words; no traceback."""
    texts = session_files()
    path = tmp_path / "case.toml"

    def attempt(chosen: random.Random) -> None:
        path.write_bytes(spoil(chosen.choice(texts), chosen))
        output, complained = StringIO(), StringIO()
        with redirect_stdout(output), redirect_stderr(complained):
            status = main(["reduce", str(path)])
        assert status in (0, 1, 2)
        assert status == 0 or complained.getvalue().strip()
        assert "Traceback" not in complained.getvalue()

    assert run(60 * times, attempt) < GROWTH


def test_the_command_in_a_process_of_its_own(tmp_path: Path):
    """A few spoilt files through the command as people call it."""
    texts = session_files()
    for number in range(5):
        path = tmp_path / "case.toml"
        path.write_bytes(spoil(texts[number % len(texts)], random.Random(number)))
        done = subprocess.run(
            [sys.executable, "-m", "shopflow.cli", "reduce", str(path)],
            capture_output=True, text=True, timeout=PATIENCE, check=False,
        )  # fmt: skip
        assert done.returncode in (0, 1, 2)
        assert "Traceback" not in done.stderr


def test_growth_would_be_seen():
    """The measure itself: a run that keeps a kilobyte a case is told from one that keeps none."""
    rows: list[bytes] = []

    def keeps(chosen: random.Random) -> None:
        rows.append(chosen.randbytes(100_000))

    def forgets(chosen: random.Random) -> None:
        chosen.randbytes(100_000)

    cases: Callable[[Callable[[random.Random], None]], float] = lambda case: run(1500, case)  # noqa: E731
    assert cases(forgets) < GROWTH < cases(keeps)


@pytest.mark.parametrize("times", shares(20))
def test_rows_to_be_brought_in(quiet: Client, times: int):
    """60 times over: a CSV of any cells under good, odd and no headings, however it is written."""
    values = {"encoding": ["utf-8", "windows-1252"], "separator": ["comma", "semicolon", "tab"],
            "decimal_mark": ["point", "comma"], "date_order": ["ymd", "mdy", "dmy"]}  # fmt: skip

    def attempt(chosen: random.Random) -> None:
        kind = chosen.choice(["customers", "heads", "results"])
        headings = list(kinds.get(kind).headings)
        chosen.shuffle(headings)
        headings = [name if chosen.random() < 0.8 else anything(chosen) for name in headings]
        rows = [[anything(chosen) for _ in headings] for _ in range(chosen.randrange(5))]
        text = "\n".join(chosen.choice(",;\t").join(row) for row in [headings, *rows])
        content = spoil(text, chosen)
        by_name = {name: chosen.choice(options) for name, options in values.items()}
        file = {"file": (BytesIO(content), "rows.csv")}
        answer = quiet.post(f"/import/{kind}", data={**by_name, **file}, follow_redirects=True)
        assert answer.status_code < 500, content

    assert run(60 * times, attempt) < GROWTH
