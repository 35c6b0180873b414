"""Keeping a reading with the curve drawn anew, against a bare insert and commit in Flask."""

from __future__ import annotations

import time
from collections.abc import Iterator
from datetime import UTC, datetime
from functools import partial

import lxml.html
from flask import Flask
from flask.testing import FlaskClient
from sqlalchemy import insert

from shopflow.database import open_engine, session_factory
from shopflow.models import SignInAttempt
from tests.benchmarks.measuring import Bench, Row, in_turns
from tests.benchmarks.pages import latest_tested
from tests.benchmarks.served import Served


def measure(bench: Bench) -> Iterator[Row]:
    """One value more of a test being taken: kept, every figure worked out, the curve drawn."""
    served = Served(bench.folder, bench.large)
    _, tag = latest_tested(served)
    typed = test_being_taken(served.get(f"/heads/{tag}/test"))
    address = f"/heads/{tag}/test/results"
    drawn = served.client.post(address, data=typed)
    assert "<svg" in drawn.text
    assert drawn.headers["X-Kept"]
    mine, bare = in_turns(
        bench.rounds * 5,
        partial(_answered, served.client, address, typed),
        partial(_answered, _bare_app(bench).test_client(), "/", {}),
        clock=time.perf_counter,
    )
    yield Row("saving one reading, curve redrawn", "bare insert and commit", mine, bare, 3)


def test_being_taken(page: str) -> dict[str, str]:
    """The fields of a page that takes a test, ten lifts typed."""
    forms = lxml.html.fromstring(page).forms
    form = next(item for item in forms if "rows-0-lift" in item.fields)
    typed = {name: value or "" for name, value in form.form_values()}
    typed |= {name: str(value or "") for name, value in form.fields.items() if name}
    for place in range(10):
        lift = 1 + 1.2 * place
        typed[f"rows-{place}-lift"] = f"{lift:.1f}"
        typed[f"rows-{place}-first"] = f"{9 * lift * (1 - 0.031 * lift):.1f}"
    return typed


def _answered(client: FlaskClient, address: str, typed: dict[str, str]) -> None:
    assert client.post(address, data=typed).status_code == 200


def _bare_app(bench: Bench) -> Flask:
    app = Flask("bare")
    factory = session_factory(open_engine(bench.large))

    @app.post("/")
    def keep() -> str:
        with factory.begin() as db:
            row = {"login": "bare", "at": datetime.now(UTC), "succeeded": True}
            db.execute(insert(SignInAttempt), [row])
        return "kept"

    return app
