"""An hour without a network in a real browser: nothing entered is lost, all is stored once.

The network is cut on both sides: the browser's is off, and the server's process is ended.
"""

from __future__ import annotations

import shutil
import subprocess
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect
from sqlalchemy import delete
from sqlalchemy.orm import Session

from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from shopflow.models import BenchSession, LoginSession, Measurement, Operation, Role
from shopflow.models import OperationState as State
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.routing import operations
from tests import factories
from tests.browser.actions import profile, sign_in
from tests.browser.conftest import TABLET
from tests.browser.fitness import assert_fit
from tests.browser.test_bench import free_port, start_server
from tests.browser.test_bench_mode import READINGS, TEN_LIFTS

pytestmark = pytest.mark.slow

CONTROLLED = """() => new Promise((resolve) => {
  const look = () => (navigator.serviceWorker.controller ? resolve() : setTimeout(look, 50));
  look();
})"""


@dataclass
class Shop:
    """A shop whose server can be ended and started, and the label of its head."""

    folder: Path
    port: int
    tag: str
    server: subprocess.Popen[bytes] | None = None

    @property
    def address(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @contextmanager
    def records(self) -> Iterator[Session]:
        engine = open_engine(f"sqlite:///{self.folder / DATABASE_FILE}")
        try:
            with session_factory(engine).begin() as db:
                yield db
        finally:
            engine.dispose()

    def start(self) -> None:
        self.server = start_server(self.folder, self.port)

    def stop(self) -> None:
        if self.server is not None:
            self.server.kill()
            self.server.wait()
            self.server = None


@pytest.fixture
def shop(tmp_path: Path, migrated_file: Path) -> Iterator[Shop]:
    """A shop with one head: tested before, a step of it started, its valves to be measured."""
    running = Shop(tmp_path / "shop", free_port(), "")
    running.folder.mkdir()
    shutil.copyfile(migrated_file, running.folder / DATABASE_FILE)
    now = Actor.now(None)
    with running.records() as db:
        factories.create_shop(db)
        owner = factories.create_person(db, Role.OWNER)
        visit = factories.create_planned_visit(db)
        measured = f"schema = 1\nmeasured_at = {now.at:%Y-%m-%dT%H:%M:%SZ}"
        factories.create_session(db, visit, TEN_LIFTS.replace("schema = 1", measured), now)
        step = factories.create_operation(db, visit)
        factories.approve(db, now, visit.job)
        operations.start(db, Actor(owner, now.at), step)
        running.tag = visit.tag
    running.start()
    yield running
    running.stop()


@pytest.fixture
def context(chromium: Browser, shop: Shop) -> Iterator[BrowserContext]:
    """A tablet with the owner signed in, its pages kept for when there is no network."""
    device = profile(chromium, shop.address, viewport=TABLET, service_workers="allow")
    page = device.new_page()
    sign_in(page)
    page.evaluate(CONTROLLED)
    page.close()
    yield device
    device.close()


def addresses(tag: str) -> dict[str, str]:
    return {
        "test": f"/bench/{tag}/test?side=intake&cylinder=1",
        "sheet": f"/heads/{tag}/sheet?kind=installed+height&taken=after",
        "head": f"/heads/{tag}",
    }


def open_all(context: BrowserContext, tag: str) -> Page:
    """A page that has been on each address, as people come to them while there is a network."""
    page = context.new_page()
    for address in ["/bench", f"/bench/{tag}", *reversed(addresses(tag).values())]:
        page.goto(address)
    expect(page.locator("[name='rows-0-first']")).to_be_focused()
    return page


def cut(context: BrowserContext, shop: Shop) -> None:
    context.set_offline(True)
    shop.stop()


def restore(context: BrowserContext, shop: Shop) -> None:
    shop.start()
    context.set_offline(False)


def chip(page: Page) -> Any:
    return page.locator("#not-sent")


def readings_of(db: Session) -> list[list[str]]:
    """Readings of each test but the first, which was there before."""
    rows = db.query(BenchSession).order_by(BenchSession.id).all()[1:]
    return [[str(lift.readings[0].flow_typed) for lift in row.lifts] for row in rows]


def heights(db: Session) -> list[str]:
    return [row.value.text for row in db.query(Measurement).order_by(Measurement.id)]


def type_test(page: Page, readings: list[str]) -> None:
    for reading in readings:
        page.keyboard.type(reading)
        page.keyboard.press("Enter")


def test_an_hour_without_a_network(chromium, shop, context, pictures):
    at = addresses(shop.tag)
    page = open_all(context, shop.tag)
    type_test(page, READINGS[:1])
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")

    cut(context, shop)
    type_test(page, READINGS[1:5])
    expect(chip(page)).to_have_text("Not sent yet: 1")
    page.reload()
    expect(page.locator("[name='rows-4-first']")).to_have_value(READINGS[4])
    page.close()
    page = context.new_page()
    page.goto(at["test"])
    expect(page.locator("[name='rows-4-first']")).to_have_value(READINGS[4])
    page.locator("[name='rows-5-first']").focus()
    type_test(page, READINGS[5:])
    page.keyboard.press("Enter")
    page.keyboard.press("Enter")
    page.wait_for_url(f"**/bench/{shop.tag}")
    expect(chip(page)).to_have_text("Not sent yet: 1")

    page.goto(at["sheet"])
    cells = page.locator("table.measured-sheet input.cell-input")
    for index, height in enumerate(("1.801", "1.802")):
        cells.nth(index).fill(height)
        cells.nth(index).press("Enter")
    expect(page.locator("#safe")).to_contain_text("Not saved: 2 values, no connection.")
    expect(chip(page)).to_have_text("Not sent yet: 2")
    page.goto(at["head"])
    page.get_by_role("button", name="Sign off step").click()
    page.wait_for_url("**/not-sent")
    expect(chip(page)).to_have_text("Not sent yet: 3")
    expect(page.get_by_text("The server does not answer.")).to_be_visible()
    assert_fit(page)
    page.screenshot(path=pictures / "not-sent-waiting.png", full_page=True)
    page.close()

    with shop.records() as db:
        other = factories.someone(db)
        visit = jobs.visit(db, shop.tag)
        kind = measurements.kind_by_code(db, "installed height")
        values = {"cylinder": 1, "side": "intake", "valve": 1, "when": "after", "value": "1.777 in"}
        measurements.record(db, other, visit, kind.id, values)
    restore(context, shop)
    page = context.new_page()
    page.goto("/")
    expect(chip(page)).to_have_text("Not saved: 1")
    with shop.records() as db:
        assert readings_of(db) == [READINGS]
        assert sorted(heights(db)) == ["1.777 in", "1.802 in"]
        assert [row.state for row in db.query(Operation)] == [State.DONE]

    chip(page).click()
    expect(page.get_by_text("Odile Marsh entered 1.777 meanwhile")).to_be_visible()
    expect(page.locator(".entry dd")).to_have_text(["1.801"])
    # Sent again as it is, it is refused again, and stays.
    with page.expect_response("**/cells*"):
        page.get_by_role("button", name="Send again").click()
    expect(chip(page)).to_have_text("Not saved: 1")
    assert_fit(page)
    page.screenshot(path=pictures / "not-sent-refused.png", full_page=True)
    page.get_by_role("link", name="Open page").click()
    cell = page.locator("table.measured-sheet input.cell-input").first
    expect(page.locator("td.cell-faulty .fault")).to_contain_text("Odile Marsh entered 1.777")
    expect(cell).to_have_value("1.801")
    cell.fill("1.803")
    cell.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Saved: everything entered")
    expect(chip(page)).to_be_hidden()
    with shop.records() as db:
        assert sorted(heights(db)) == ["1.802 in", "1.803 in"]
        assert readings_of(db) == [READINGS]


def test_two_tests_of_one_page_are_two(shop, context):
    """A page kept from before has the key of a test that is over: the second gets its own."""
    page = open_all(context, shop.tag)
    cut(context, shop)
    for more in ("1", "2"):
        page.goto(addresses(shop.tag)["test"])
        expect(page.locator("[name='rows-0-first']")).to_have_value("")
        page.locator("[name='rows-0-first']").focus()
        type_test(page, [f"{reading}{more}" for reading in READINGS])
        page.keyboard.press("Enter")
        page.keyboard.press("Enter")
        page.wait_for_url(f"**/bench/{shop.tag}")
        expect(chip(page)).to_have_text(f"Not sent yet: {more}")
    restore(context, shop)
    expect(chip(page)).to_be_hidden()
    with shop.records() as db:
        assert readings_of(db) == [[f"{reading}{more}" for reading in READINGS] for more in "12"]


def test_the_queue_waits_for_who_entered_it_and_sends_nothing_twice(shop, context):
    page = open_all(context, shop.tag)
    page.goto(addresses(shop.tag)["head"])
    cut(context, shop)
    page.get_by_role("button", name="Sign off step").click()
    page.wait_for_url("**/not-sent")
    with shop.records() as db:
        db.execute(delete(LoginSession))
    restore(context, shop)
    expect(chip(page)).to_have_text("Sign in to send: 1")
    entries = page.evaluate(ENTRIES)
    page.get_by_role("link", name="Sign in", exact=True).click()
    page.get_by_label("User name").fill("owner")
    page.get_by_label("Password").fill(factories.PASSWORD)
    page.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/not-sent")
    expect(page.get_by_text("Everything is sent.")).to_be_visible()
    # The answer to the first was lost: the same entry, sent again, is known by its key.
    page.evaluate(PUT, entries[0])
    page.get_by_role("button", name="Send now").click()
    expect(page.get_by_text("Everything is sent.")).to_be_visible()
    expect(chip(page)).to_be_hidden()
    with shop.records() as db:
        (step,) = db.query(Operation)
        assert step.state is State.DONE


ENTRIES = "async () => (await import('/static/js/queue.js')).allEntries()"
PUT = "async (entry) => { await (await import('/static/js/queue.js')).putEntry(entry); }"


def test_what_is_kept_of_pages_goes_at_sign_out_and_what_is_not_sent_stays(shop, context):
    page = open_all(context, shop.tag)
    assert page.evaluate("caches.has('pages')")
    context.set_offline(True)
    page.locator("[name='rows-0-first']").fill("20")
    expect(chip(page)).to_have_text("Not sent yet: 1")
    page.route("**/test/results*", lambda route: route.abort())
    context.set_offline(False)
    page.goto("/")
    page.locator(".bar-person summary").click()
    page.get_by_role("button", name="Sign out").click()
    page.wait_for_url("**/sign-in")
    assert not page.evaluate("caches.has('pages')")
    assert len(page.evaluate(ENTRIES)) == 1
    cut(context, shop)
    page.goto(f"/heads/{shop.tag}")
    expect(page.get_by_role("heading", name="Not sent yet", level=1)).to_be_visible()
    expect(page.get_by_text("Entered by someone who is not signed in.")).to_be_visible()
    assert shop.tag not in page.locator("body").inner_text()
