"""Live readings: from the instruments of a simulated bench to a certificate, over real sockets.

The agent runs as its own process, as beside a real bench; its lift key is a line on its input.
"""

from __future__ import annotations

import statistics
import subprocess
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select

from shopflow.bench_agent.simulated.bench import FULL_LIFT, MOST_FLOW
from shopflow.database import session_factory
from shopflow.models import BenchSession, Capture, Certificate, Role
from shopflow.services.accounts import api_tokens
from shopflow.services.actor import Actor
from tests import factories
from tests.browser.actions import press, profile, sign_in
from tests.browser.conftest import TABLET, Served, serving
from tests.browser.test_bench_mode import TEN_LIFTS

pytestmark = pytest.mark.slow

LIFTS = [f"{0.04 * count:.2f}" for count in range(1, 13)]
"""Twelve, in inches, below the lift at which the simulated valve flows most."""

COMMAND = "import sys; from shopflow.cli import main; sys.exit(main())"
PART = 0.5
"""Of the time that the agent takes to be sure of a reading, within which the reading stands in the
table of results in the median: both by the clock of the page's machine, in one run."""

NOTE_DRAWN = """() => {
  window.drawn = {};
  const look = () => {
    const count = document.querySelectorAll("#worked-out table.figures")[0]?.tBodies[0].rows.length;
    if (count && !(count in window.drawn)) window.drawn[count] = Date.now() / 1000;
    requestAnimationFrame(look);
  };
  look();
}"""
"""Lets the page note when each row was drawn: asking it again and again is slower than it is."""


@pytest.fixture
def bench_shop(tmp_path: Path, migrated_file: Path) -> Iterator[tuple[Served, str, Path]]:
    """A shop with a calibrated bench and a head tested before; its label, and the bench's token."""
    with serving(tmp_path / "shop", migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            owner = factories.create_person(db, Role.OWNER)
            bench = factories.create_bench(db)
            visit = factories.create_visit(db)
            factories.create_session(db, visit, TEN_LIFTS, by=Actor.now(None))
            values = factories.token_values("bench", bench=bench.id)
            secret, tag = api_tokens.make(db, Actor.now(owner), values)[1], visit.tag
        token = tmp_path / "token.txt"
        token.write_text(secret)
        yield served, tag, token


@contextmanager
def agent(served: Served, token: Path) -> Iterator[subprocess.Popen[str]]:
    """The agent beside the simulated bench."""
    journal = token.with_name("journal.jsonl")
    named = ["--server", served.address, "--token", str(token), "--journal", str(journal)]
    command = [sys.executable, "-c", COMMAND, "bench", "--simulated", *named]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, text=True
    )
    try:
        yield process
    finally:
        process.kill()
        process.communicate()


def heard_from(process: subprocess.Popen[str], words: str) -> str:
    """Read what the agent says up to a line with these words."""
    lines = []
    assert process.stdout is not None
    for line in process.stdout:
        lines.append(line)
        if words in line:
            return line
    raise AssertionError(lines)


def press_lift_key(process: subprocess.Popen[str]) -> None:
    assert process.stdin is not None
    process.stdin.write("\n")
    process.stdin.flush()


def open_test(page: Page, served: Served, tag: str) -> None:
    """The form of a test at the bench, with twelve lifts, following the instruments."""
    sign_in(page)
    page.goto(f"/heads/{tag}/test?side=intake&cylinder=2&range=1")
    page.get_by_label("Stage").fill("ported")
    if not page.locator("[name=rows-11-lift]").count():
        press(page, "More rows")
    for row, lift in enumerate(LIFTS):
        page.locator(f"[name=rows-{row}-lift]").fill(lift)
    page.locator("#live-tone").uncheck()
    page.get_by_role("button", name="Start live readings").click()
    expect(page.locator("#live-taken")).to_have_text("Waiting for readings.")
    expect(page.locator("#safe")).to_contain_text("Safe")


def test_twelve_lifts_are_taken_by_the_lift_key_alone_up_to_a_certificate(
    chromium: Browser, bench_shop: tuple[Served, str, Path]
):
    served, tag, token = bench_shop
    page = profile(chromium, served.address, viewport=TABLET).new_page()
    open_test(page, served, tag)
    page.evaluate(NOTE_DRAWN)
    told, taking = [], []
    with agent(served, token) as process:
        heard_from(process, f"Set {LIFTS[0]} in, then press the lift key.")
        for row, lift in enumerate(LIFTS):
            pressed = time.time()
            press_lift_key(process)
            line = heard_from(process, f"{lift} in: ")
            told.append(time.time())
            taking.append(told[-1] - pressed)
            assert line.startswith("\a")
            expect(page.locator("#live-taken")).to_contain_text(f"{lift} in: ")
            expect(page.locator(f"[name=rows-{row}-first]")).not_to_have_value("")
            expect(page.locator("#worked-out figure.sheet").first).to_be_visible()
            table = page.locator("#worked-out table.figures").first
            expect(table.locator("tbody tr")).to_have_count(row + 1)
        heard_from(process, "Every lift has a reading.")
    drawn = page.evaluate("window.drawn")
    waits = [drawn[str(row)] - moment for row, moment in enumerate(told, start=1)]
    print("seconds from taken to drawn:", [f"{wait:.2f}" for wait in waits])
    assert statistics.median(waits) < PART * statistics.median(taking), (waits, taking)
    expect(page.locator("#safe")).to_contain_text("Safe")
    press(page, "Save test")
    expect(page.locator("h1")).to_be_visible()
    assert "/flow-tests/" in page.url
    page.get_by_text("Readings of instruments").click()
    expect(page.get_by_role("cell", name="SIM-1001").first).to_be_visible()
    flows = flows_on_record(served, tag)
    for lift, flow in zip(LIFTS, flows, strict=True):
        part = float(lift) * 0.0254 / FULL_LIFT
        assert flow == pytest.approx(MOST_FLOW * (2.0 * part - part * part), rel=0.01)
    certify(page, served, tag)


def flows_on_record(served: Served, tag: str) -> list[float]:
    """Readings of the head's latest test, as typed."""
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        row = db.scalars(select(BenchSession).order_by(BenchSession.id.desc()).limit(1)).one()
        assert row.job_head.tag == tag
        assert len(db.scalars(select(Capture)).all()) == len(LIFTS)
        assert row.barometer.si == pytest.approx(99_200, rel=1e-3)
        assert row.u_repeatability is not None
        return [float(lift.readings[0].flow_typed) for lift in row.lifts]


def certify(page: Page, served: Served, tag: str) -> None:
    """Issue a certificate of the test that was just saved."""
    page.goto(f"/heads/{tag}/certify")
    boxes = page.locator("input[name=sessions]")
    for place in range(boxes.count()):
        boxes.nth(place).set_checked(place == boxes.count() - 1)
    press(page, "Save draft")
    page.locator("[name=statement]").fill("Read over against the instruments.")
    press(page, "Confirm check")
    press(page, "Issue certificate")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Certificate FC-")
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        assert len(db.scalars(select(Certificate)).all()) == 1
