"""Taps and keys of the counter's and machinist's tasks, counted in one walk of a browser.

The time of booking is estimated by the keystroke-level model of Card, Moran and Newell (1980). Its
operators are from memory: a key of an average typist 0.28 s, pointing 1.1 s, pressing a button
0.2 s, moving a hand between keyboard and mouse 0.4 s, making up one's mind 1.35 s.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime

import pytest
from playwright.sync_api import Browser, Locator, Page, ViewportSize, expect

from shopflow import issuing
from shopflow.database import session_factory
from shopflow.models import JobState, Role
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations, work_plans
from tests import factories
from tests.browser.actions import profile, sign_in
from tests.browser.conftest import DESKTOP, Served
from tests.browser.fitness import assert_fit

WIDTHS: tuple[ViewportSize, ...] = (
    DESKTOP,
    {"width": 820, "height": 1180},
    {"width": 390, "height": 844},
    {"width": 320, "height": 700},
)
KEY, POINT, PRESS, HOME, MIND = 0.28, 1.1, 0.2, 0.4, 1.35

GOALS = {
    "start a step": 1,
    "sign off": 2,
    "quote": 2,
    "payment": 2,
    "hand over": 2,
    "certificate": 4,
}
"""Taps from the floor; of a certificate, from the head's page."""


@dataclass
class Hand:
    """A hand at a page: what it taps and types is counted."""

    page: Page
    taps: int = 0
    keys: int = 0

    def tap(self, target: Locator, *, leads_on: bool = True) -> None:
        """Tap this, and be on the page it leads to."""
        self.taps += 1
        if not leads_on:
            target.click()
            return
        with self.page.expect_navigation():
            target.click()

    def press(self, words: str) -> None:
        """Tap the first button or link whose words begin so, and be on the page it leads to."""
        main = self.page.locator("main")
        button = main.get_by_role("button", name=words).or_(main.get_by_role("link", name=words))
        self.tap(button.first)

    def type(self, name: str, text: str) -> None:
        """Type into the field of this name, after a tap into it."""
        self.taps += 1
        self.keys += len(text)
        field = self.page.locator(f"main [name='{name}']")
        field.click()
        field.press_sequentially(text)

    def enter(self) -> None:
        """Press Enter, and be on the page it leads to."""
        self.keys += 1
        with self.page.expect_navigation():
            self.page.keyboard.press("Enter")

    @property
    def seconds(self) -> float:
        """Time by the keystroke-level model: each tap is decided on, pointed at and pressed."""
        return self.keys * KEY + self.taps * (MIND + 2 * HOME + POINT + PRESS)


@pytest.fixture
def page(chromium: Browser, served: Served) -> Iterator[Page]:
    """The owner at the floor of a shop with a job for each task."""
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        factories.create_shop(db)
        owner = factories.create_person(db, Role.OWNER)
        by = Actor(owner, datetime.now(UTC))
        work_plans.save(db, by, "Valve job", "", [{"kind": "seat-cut", "price": "160.00"}])
        customer = factories.create_customer(db, name="Orla Finch")
        factories.create_engine_type(db, builder="Hollin", family="K18T", cylinders="4")

        def job(kind: str = "hot-wash"):
            row = factories.create_job(db, customer)
            return row, factories.create_operation(db, row.heads[0], kind, price="60.00")

        approvals.record(db, by, job()[0], "Orla Finch", "telephone")
        row, step = job()
        approvals.record(db, by, row, "Orla Finch", "telephone")
        operations.start(db, by, step)
        job()
        for invoiced in (True, False):
            row, step = job()
            if invoiced:
                approvals.record(db, by, row, "Orla Finch", "telephone")
            else:
                step.price = step.price * 0
                jobs.mark_approved(db, by, row, "Orla Finch", "telephone")
            operations.start(db, by, step)
            operations.sign_off(db, by, step, {})
            if not invoiced:
                factories.create_session(db, row.heads[0])
            jobs.move(db, by, row, JobState.READY)
            if invoiced:
                issuing.issue_invoice(db, by, row)
    context = profile(chromium, served.address, viewport=DESKTOP)
    tab = context.new_page()
    sign_in(tab)
    yield tab
    context.close()


@pytest.mark.slow
def test_the_tasks_take_as_many_taps_as_they_may(page: Page) -> None:
    tags = [link.inner_text() for link in page.locator("table.floor tbody th a").all()]
    counted: dict[str, Hand] = {}

    def hand(task: str) -> Hand:
        page.goto("/")
        counted[task] = Hand(page)
        return counted[task]

    at = hand("start a step")
    at.press(f"Start step : Hot-wash, {tags[0]}")
    expect(page.get_by_text("working since").first).to_be_visible()
    at = hand("sign off")
    at.press(f"Sign off step : Hot-wash, {tags[1]}")
    at.press("Sign off step")
    expect(page.get_by_role("status")).to_contain_text("Signed off: Hot-wash.")
    at = hand("quote")
    at.press(f"Write quote : {tags[2]}")
    at.press("Send quote")
    expect(page.get_by_text("is recorded. It can no longer be changed.")).to_be_visible()
    at = hand("payment")
    at.press(f"Record payment : {tags[3]}")
    at.press("Save cash payment")
    expect(page.get_by_text("The payment is recorded.")).to_be_visible()
    at = hand("hand over")
    at.press(f"Hand over : {tags[4]}")
    at.press("Hand over all")
    expect(page.get_by_text("is collected.")).to_be_visible()
    page.goto(f"/heads/{tags[4]}")
    at = counted["certificate"] = Hand(page)
    at.press("Draft certificate")
    at.press("Save draft")
    page.locator("[name='statement']").fill("Read over against the bench sheets.")
    for answer in page.locator("main [name^='answer']").all():
        answer.fill("Seen, and as it is.")
    at.press("Confirm check")
    at.press("Issue certificate")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Certificate FC-")
    assert {task: at.taps for task, at in counted.items()} == GOALS


@pytest.mark.slow
def test_two_heads_are_booked_in_within_a_minute_and_a_half(page: Page) -> None:
    at = Hand(page)
    at.press("Book in")
    at.type("customer_find", "orla")
    at.tap(page.get_by_label("Orla Finch"), leads_on=False)
    at.press("Continue to engine type")
    at.type("engine_find", "k18")
    at.tap(page.get_by_label("Hollin K18T"), leads_on=False)
    at.press("Continue to heads")
    at.type("heads-0-casting_number", "HC 4417-208")
    at.type("heads-0-serial", "A 1207")
    at.press("Add head")
    at.type("heads-1-casting_number", "HC 4417-209")
    at.type("heads-1-serial", "A 1208")
    at.press("Continue to job")
    at.type("job-asked_for", "Seats for boost.")
    page.locator("[name='routing_id']").select_option(label="Valve job")
    at.taps += 2
    at.press("Book, print labels")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Labels for job ")
    print(f"booking two heads: {at.taps} taps, {at.keys} keys, {at.seconds:.0f} s")
    assert at.seconds < 90


@pytest.mark.slow
def test_floor_job_head_booking_and_first_days_fit_four_widths(page: Page) -> None:
    tag = page.locator("table.floor tbody th a").first.inner_text()
    paths = ("/", "/my-work", f"/jobs/{tag[:-2]}", f"/jobs/{tag[:-2]}/money", f"/heads/{tag}",
             "/jobs/new", "/first-days", "/help/?q=quote")  # fmt: skip
    for path in paths:
        page.goto(path)
        for size in WIDTHS:
            page.set_viewport_size(size)
            wide = page.evaluate(
                "[...document.querySelectorAll('.cards')].filter(e => e.scrollWidth > "
                "e.clientWidth + 1).length + (document.documentElement.scrollWidth > innerWidth)"
            )
            assert wide == 0, (path, size)
        page.set_viewport_size(WIDTHS[2])
        assert_fit(page)
