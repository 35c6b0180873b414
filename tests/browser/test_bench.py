"""The bench in a real browser: keyboard alone, and nothing typed is ever lost."""

from __future__ import annotations

import contextlib
import shutil
import socket
import subprocess
import sys
import time
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from shopflow.config import DATABASE_FILE
from shopflow.database import open_engine, session_factory
from shopflow.models import BenchSession, Role
from shopflow.services.jobs import jobs
from tests import factories
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import TABLET, Served, serving
from tests.browser.fitness import assert_fit
from tests.cli.sessions import EXHAUST_SI
from tests.optional import present
from tests.patience import PATIENCE

LIFTS = [f"{count}.0" for count in range(1, 13)]
FIRST = ["20.1", "41.9", "63.4", "84.2", "103.8", "121.7", "137.6", "151.2", "162.4", "171.0",
         "176.8", "180.1"]  # fmt: skip
SECOND = ["20.3", "42.1", "63.1", "84.6", "103.5", "122.0", "137.9", "151.0", "162.8", "170.6",
          "177.1", "180.4"]  # fmt: skip


@pytest.fixture
def shop(tmp_path: Path, migrated_file: Path) -> Iterator[tuple[Served, str, Path]]:
    """A shop with one head in it: the server, the head's tag, the folder."""
    folder = tmp_path / "shop"
    with serving(folder, migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
            visit = factories.create_visit(db)
            tag = visit.tag
        yield served, tag, folder


def signed_in_page(chromium: Browser, address: str, **more: Any) -> Page:
    page = profile(chromium, address, **more).new_page()
    sign_in(page)
    return page


def set_up(page: Page, tag: str, lifts: list[str] = LIFTS) -> None:
    """Everything but the readings."""
    page.goto(f"/heads/{tag}/test")
    for label, value in {
        "Barometer": "29.92 inHg", "Temperature": "68 degF", "Valve head diameter": "44 mm",
        "Test pressure": "28 inH2O",
    }.items():  # fmt: skip
        page.get_by_label(label, exact=False).first.fill(value)
    page.get_by_text("Lifts, units and comparison").click()
    page.get_by_label("Lifts in").select_option("mm")
    for row, lift in enumerate(lifts):
        if row == 10:
            follow(page.get_by_role("button", name="More rows"))
        page.locator(f"[name='rows-{row}-lift']").fill(lift)


def test_a_session_of_twelve_lifts_twice_is_typed_without_a_mouse(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    set_up(page, tag)
    page.locator("[name='rows-0-first']").focus()
    for reading in [*FIRST, *SECOND]:
        # Nothing but the digits and Enter; Enter after the last lift begins the next run.
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    assert page.locator("#worked-out .chart-box").count() == 2
    assert_fit(page)
    page.keyboard.press("Escape")
    page.locator("[name='save']").first.focus()
    page.keyboard.press("Enter")
    page.wait_for_url("**/flow-tests/*")
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        (row,) = db.query(BenchSession)
        typed = [[str(run.flow_typed) for run in lift.readings] for lift in row.lifts]
    assert typed == [list(pair) for pair in zip(FIRST, SECOND, strict=True)]


@pytest.mark.slow
def test_without_a_network_nothing_typed_disappears(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    set_up(page, tag)
    page.locator("[name='rows-0-first']").focus()
    page.keyboard.type("20.1")
    page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    page.context.set_offline(True)
    for reading in ("41.9", "63.4"):
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("no connection")
    assert page.locator("[name='rows-1-first']").get_attribute("data-safe") == "no"
    page.context.set_offline(False)
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    # Another screen, as after a shut lid, goes on where this one was.
    other = page.context.new_page()
    other.goto(f"/heads/{tag}/test")
    expect(other.locator("[name='rows-2-first']")).to_have_value("63.4")
    expect(other.get_by_text("You are continuing the intake test")).to_be_visible()


def free_port() -> int:
    with socket.socket() as answer:
        answer.bind(("127.0.0.1", 0))
        return int(answer.getsockname()[1])


def start_server(folder: Path, port: int) -> subprocess.Popen[bytes]:
    """The server as its owner starts it, once it answers."""
    command = [sys.executable, "-c", "from shopflow.cli import main; main()"]
    process = subprocess.Popen([*command, "serve", "--data", str(folder), "--port", str(port)])
    deadline = time.monotonic() + PATIENCE
    while time.monotonic() < deadline:
        with contextlib.suppress(OSError), socket.create_connection(("127.0.0.1", port)):
            return process
        time.sleep(0.1)
    process.kill()
    raise AssertionError("the server did not start")


@pytest.mark.slow
def test_a_server_killed_mid_test_has_all_it_acknowledged(chromium, tmp_path, migrated_file):
    folder, port = tmp_path / "shop", free_port()
    folder.mkdir()
    shutil.copyfile(migrated_file, folder / DATABASE_FILE)
    engine = open_engine(f"sqlite:///{folder / DATABASE_FILE}")
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        factories.create_person(db, Role.OWNER)
        tag = factories.create_visit(db).tag
    engine.dispose()
    server = start_server(folder, port)
    page = signed_in_page(chromium, f"http://127.0.0.1:{port}")
    set_up(page, tag)
    page.locator("[name='rows-0-first']").focus()
    page.keyboard.type("20.1")
    page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    server.kill()
    server.wait()
    page.keyboard.type("41.9")
    page.keyboard.press("Enter")
    expect(page.locator("#safe")).to_contain_text("Kept in this browser")
    server = start_server(folder, port)
    try:
        expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
        page.goto(f"/heads/{tag}/test")
        expect(page.locator("[name='rows-0-first']")).to_have_value("20.1")
        expect(page.locator("[name='rows-1-first']")).to_have_value("41.9")
    finally:
        server.kill()
        server.wait()


def count_stored_tests(served: Served) -> int:
    """Number of flow tests on file."""
    with session_factory(served.app.extensions["shopflow.engine"])() as db:
        return db.query(BenchSession).count()


def type_until_safe(page: Page, tag: str) -> None:
    """A test of five lifts, all of it acknowledged."""
    set_up(page, tag, LIFTS[:5])
    for row, reading in enumerate(FIRST[:5]):
        page.locator(f"[name='rows-{row}-first']").fill(reading)
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")


@pytest.mark.slow
def test_saving_without_a_network_keeps_the_readings_and_saves_once_when_it_is_back(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    page.context.set_offline(True)
    page.locator("[name='save']").first.click()
    expect(page.locator("#safe")).to_contain_text("Not saved: no connection")
    expect(page.locator("[name='rows-4-first']")).to_have_value(FIRST[4])
    content = page.evaluate("() => localStorage.getItem(`bench ${location.pathname}`)")
    assert FIRST[4] in content
    page.context.set_offline(False)
    page.locator("[name='save']").first.click()
    page.wait_for_url("**/flow-tests/*")
    expect(page.get_by_text("The test is saved.")).to_be_visible()
    # Nothing typed is left; that this test is over is remembered.
    assert page.evaluate("() => Object.keys(localStorage)") == ["bench over"]
    assert count_stored_tests(served) == 1


@pytest.mark.slow
def test_an_answer_that_was_lost_on_its_way_saves_the_test_once(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    # The server saves, the answer never comes.
    page.route(f"**/heads/{tag}/test", lambda route: (route.fetch(), route.abort()), times=1)
    page.locator("[name='save']").first.click()
    expect(page.locator("#safe")).to_contain_text("Not saved: no connection")
    assert count_stored_tests(served) == 1
    page.locator("[name='save']").first.click()
    page.wait_for_url("**/flow-tests/*")
    assert count_stored_tests(served) == 1


def sign_out_elsewhere(page: Page) -> None:
    other = page.context.new_page()
    other.goto("/")
    other.evaluate("() => document.querySelector(\"form[action='/sign-out']\").submit()")
    other.wait_for_url("**/sign-in")
    other.close()


@pytest.mark.slow
def test_signed_out_in_another_tab_one_signs_in_in_place_and_the_test_is_saved(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    sign_out_elsewhere(page)
    page.locator("[name='save']").first.click()
    dialog = page.get_by_role("dialog")
    expect(dialog).to_contain_text("You are signed out. What you typed is still on the page.")
    assert_fit(page)
    dialog.get_by_label("User name").fill("owner")
    dialog.get_by_label("Password").fill("not the password")
    dialog.get_by_role("button", name="Sign in").click()
    expect(dialog.get_by_role("alert")).to_be_visible()
    assert count_stored_tests(served) == 0
    dialog.get_by_label("Password").fill(factories.PASSWORD)
    dialog.get_by_role("button", name="Sign in").click()
    page.wait_for_url("**/flow-tests/*")
    assert count_stored_tests(served) == 1


@pytest.mark.slow
def test_signed_in_anew_in_another_tab_the_test_is_saved_without_a_question(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    sign_out_elsewhere(page)
    other = page.context.new_page()
    sign_in(other)
    page.locator("[name='save']").first.click()
    page.wait_for_url("**/flow-tests/*")
    assert count_stored_tests(served) == 1


@pytest.mark.slow
def test_closing_the_sign_in_keeps_the_readings(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    sign_out_elsewhere(page)
    page.locator("[name='save']").first.click()
    page.get_by_role("dialog").get_by_role("button", name="Cancel").click()
    expect(page.locator("#safe")).to_contain_text("Not saved: you are signed out")
    expect(page.locator("[name='rows-4-first']")).to_have_value(FIRST[4])
    expect(page.locator("[name='save']").first).to_be_enabled()


@pytest.mark.slow
def test_what_cannot_be_saved_is_said_at_its_field(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    type_until_safe(page, tag)
    page.locator("[name='air-barometer']").fill("")
    page.locator("[name='rows-1-first']").fill("4l.9")
    page.locator("[name='save']").first.click()
    expect(page.locator("#safe")).to_contain_text("Not saved: fix the fields marked")
    assert page.locator("[name='rows-1-first']").get_attribute("aria-invalid") == "true"
    expect(page.locator("td .fault")).to_contain_text("4l.9")
    assert page.locator("[name='air-barometer']").get_attribute("aria-invalid") == "true"
    assert count_stored_tests(served) == 0


def test_a_page_without_script_does_not_promise_to_keep_what_is_typed(chromium, shop):
    served, tag, _ = shop
    context = profile(chromium, served.address, java_script_enabled=False)
    page = context.new_page()
    sign_in(page)
    page.goto(f"/heads/{tag}/test")
    expect(page.locator("#safe")).to_have_text(
        "Press Save test when you are done. Nothing is saved before that."
    )
    context.close()


@pytest.mark.slow
def test_what_was_kept_while_a_page_was_loading_is_not_lost(chromium, shop):
    """The page was made before the server kept the last value, the answer came before it showed."""
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    set_up(page, tag, LIFTS[:5])
    page.locator("[name='rows-0-first']").fill("20.1")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    page.evaluate(
        """() => {
          const name = `bench ${location.pathname}`;
          const held = JSON.parse(localStorage.getItem(name));
          held.seen += 1;
          held.typed.push(["rows-1-first", "41.9"]);
          localStorage.setItem(name, JSON.stringify(held));
          window.stop();
        }"""
    )
    page.goto(f"/heads/{tag}/test")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    other = page.context.new_page()
    other.goto(f"/heads/{tag}/test")
    expect(other.locator("[name='rows-1-first']")).to_have_value("41.9")


@pytest.mark.slow
def test_a_test_is_discarded_once_confirmed_and_can_be_restored(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address)
    set_up(page, tag, LIFTS[:5])
    page.locator("[name='rows-0-first']").fill("20.1")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    page.goto(f"/heads/{tag}/test")
    press(page, "Discard test")
    press(page, "Discard test")
    page.goto(f"/heads/{tag}/test")
    expect(page.locator("[name='rows-0-first']")).to_have_value("")
    page.goto(f"/heads/{tag}")
    press(page, "Restore test")
    expect(page.locator("[name='rows-0-first']")).to_have_value("20.1")
    page.goto("/")
    expect(page.get_by_role("link", name="Continue the intake test, 1 reading")).to_be_visible()


def test_changing_the_side_loads_its_sizes_and_going_back_loses_nothing(chromium, shop):
    served, tag, _ = shop
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        visit = jobs.visit(db, tag)
        factories.create_session(db, visit, EXHAUST_SI)
        diameter = visit.sessions[0].head_diameter.text
    page = signed_in_page(chromium, served.address)
    page.goto(f"/heads/{tag}/test")
    field = page.locator("[name='valve-head_diameter']")
    page.get_by_label("Side").select_option("intake")
    expect(field).to_have_value("")
    field.fill("44 mm")
    page.get_by_label("Side").select_option("exhaust")
    expect(field).to_have_value(diameter)
    page.get_by_label("Side").select_option("intake")
    expect(field).to_have_value("44 mm")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")


def test_what_is_typed_while_sizes_are_on_their_way_stays(chromium, shop):
    served, tag, _ = shop
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        factories.create_session(db, jobs.visit(db, tag), EXHAUST_SI)
    page = signed_in_page(chromium, served.address)
    rows = []
    page.route("**/sizes?*", lambda route: rows.append(route))
    page.goto(f"/heads/{tag}/test")
    side = page.get_by_label("Side")
    other = "exhaust" if side.input_value() == "intake" else "intake"
    side.select_option(other)
    page.locator("[name='valve-head_diameter']").fill("39.5 mm")
    while not rows:
        page.wait_for_timeout(20)
    with page.expect_response("**/sizes?*"):
        rows.pop().continue_()
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    expect(page.locator("[name='valve-head_diameter']")).to_have_value("39.5 mm")
    expect(page.locator("[name='valve-count']")).not_to_have_value("")


def test_only_the_sizes_of_the_side_chosen_last_are_filled_in(chromium, shop):
    served, tag, _ = shop
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        factories.create_session(db, jobs.visit(db, tag), EXHAUST_SI)
    page = signed_in_page(chromium, served.address)
    page.goto(f"/heads/{tag}/test")
    side, field = page.get_by_label("Side"), page.locator("[name='valve-head_diameter']")
    side.select_option("exhaust")
    expect(field).not_to_have_value("")
    side.select_option("intake")
    expect(field).to_have_value("")
    rows = []
    page.route("**/sizes?side=exhaust*", lambda route: rows.append(route))
    side.select_option("exhaust")
    while not rows:
        page.wait_for_timeout(20)
    with page.expect_response("**/sizes?side=intake*"):
        side.select_option("intake")
    with page.expect_response("**/sizes?side=exhaust*"):
        rows.pop().continue_()
    page.wait_for_timeout(50)
    expect(field).to_have_value("")


@pytest.mark.slow
def test_with_everything_set_up_the_first_reading_is_in_sight_and_has_the_cursor(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address, viewport=TABLET)
    set_up(page, tag, LIFTS[:5])
    brief = page.locator("#set-up summary")
    expect(brief).to_contain_text("barometer 29.92 inHg")
    expect(brief).not_to_contain_text("missing", use_inner_text=True)
    page.locator("[name='rows-0-first']").fill("20.1")
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    page.goto(f"/heads/{tag}/test")
    expect(page.locator("[name='rows-1-first']")).to_be_focused()
    box = page.locator("[name='rows-0-first']").bounding_box()
    assert box is not None
    assert box["y"] < TABLET["height"] / 2 + 250
    expect(page.locator("[name='air-barometer']")).to_be_hidden()
    brief.click()
    page.locator("[name='air-barometer']").fill("")
    expect(brief).to_contain_text("barometer missing", use_inner_text=True)
    expect(page.locator("#safe")).to_contain_text("Safe: everything typed")
    page.reload()
    expect(page.locator("[name='air-barometer']")).to_be_visible()


def test_a_fault_of_the_set_up_stands_above_its_field(chromium, shop):
    served, tag, _ = shop
    page = signed_in_page(chromium, served.address, viewport=TABLET)
    page.goto(f"/heads/{tag}/test")
    page.locator("#save").click()
    field = page.locator("[name='air-barometer']")
    expect(field).to_have_attribute("aria-invalid", "true")
    note = page.locator(f"#{field.get_attribute('aria-describedby')}")
    expect(note).to_contain_text("enter a value")
    above, below = present(note.bounding_box()), present(field.bounding_box())
    assert above["y"] + above["height"] <= below["y"] + 1
