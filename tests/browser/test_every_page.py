"""Every page of the invented shop and of an empty one, found by its links: fit, axe silent.

With SHOPFLOW_SCREENSHOTS=DIR a picture of each is left there.
"""

from __future__ import annotations

import os
import re
from collections import defaultdict, deque
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from pathlib import Path
from urllib.parse import urljoin, urlsplit

import lxml.html
import pytest
from flask.testing import FlaskClient
from playwright.sync_api import Browser, BrowserContext, Page, ViewportSize
from werkzeug.exceptions import HTTPException
from werkzeug.routing import RequestRedirect

from shopflow.database import session_factory
from shopflow.models import Role
from shopflow.web.rights import BY_TOKEN
from tests import factories
from tests.browser.actions import profile, sign_in
from tests.browser.conftest import DESKTOP, TABLET, Served, serving
from tests.browser.fitness import NO_SIDEWAYS_SCROLL, SMALL_TARGETS, violations
from tests.demo_shop import DemoShop
from tests.security.one_of_everything import takes

pytestmark = pytest.mark.slow

FIRST, OF_EACH = 4, 7
"""Addresses of one endpoint that are followed; the largest page of them is looked at.

The first that links lead to are of the work on the floor; the rest are taken from the last, as of
jobs collected long ago.
"""

REFLOWED: ViewportSize = {"width": 320, "height": 256}
"""A small phone; or a desktop of 1280 by 1024 at 400 % (WCAG 2.2, 1.4.10 Reflow)."""

BESIDES = (
    "/search?q=clean",
    "/verify",
    "/import/customers",
    "/questions",
)
"""Pages that forms lead to, or that are a stranger's."""

OF_WORK = ("/heads/2026-0001-A/compare", "/jobs/2026-0008/lines")
"""Pages like these of a shop that has work, and one whose like links lead to seldom."""

NO_PAGES = {
    "account.sign_in": "looked at before signing in",
    "account.confirm": "asked only where the password was typed long ago; see test_accounts.py",
    "set_up.set_up": "only where there is no shop yet; tests/browser/test_walk.py goes through it",
    "bench_mode.move": "only of a head without a job; tests/browser/test_pages.py looks at it",
    "castings.offer": "only of a spare not offered; tests/web/test_casting_status.py offers one",
    "customer_view.certificate": "a paper",
    "customer_view.inspection_report": "a paper",
    "customer_view.invoice": "a paper",
    "customer_view.invoice_xml": "a file",
    "customer_view.file": "a file",
    "customer_view.page": "a customer's; tests/browser/test_customer_contact.py looks at it",
    "customer_view.thumbnail": "a picture",
    "feeds.feed": "a calendar",
    "collections.hand_over": "only once a job is ready; tests/browser/test_pages.py looks at it",
    "offline.manifest": "asked by the browser, of every page's head",
    "offline.service_worker": "asked by a page's script",
    "papers.collection": "a paper",
    "papers.invoice_xml": "a file",
    "decisions.decide": "only while a figure stops a head; tests/browser/test_routing.py decides",
    "account.standing": "asked by a page's script",
    "bench_days.past": "only of a day before; the page is that of the day, in test_bench_days.py",
    "bin_labels.sheet": "a paper, of what a form says",
    "fixtures.photo": "a picture",
    "help.picture": "a picture",
    "fixtures.small_photo": "a picture",
    "mail.remind": "only where a reminder is due; tests/web/test_bookkeeping.py writes one",
    "webhooks.webhook": "only of an address that was named; tests/web/test_webhooks.py opens one",
    "purchase_orders.change": "only of a draft; tests/browser/test_parts_walk.py looks at one",
    "reminders.change": "only of a shop that reminds; tests/web/test_bookkeeping.py changes one",
    "sent_out.send": "only of work outside; tests/browser/test_parts_walk.py sends it out",
    "sent_out.bring_back": "only of work sent out; tests/browser/test_parts_walk.py has it back",
    "sessions.captured": "asked by a page's script",
    "verification.offline_page": "only with a key; tests/browser/test_offline_verifier.py uses it",
    "verification.offline_program": "a program, only with a key; used likewise",
    "practice.discard": "only of the practice job; tests/browser/test_pages.py looks at it",
    "questions.answer": "only while a customer is asked; tests/browser/test_routing.py answers",
    "test_drafts.discard": "only while a test is taken; tests/browser/test_bench.py discards one",
    "sessions.sizes_of_side": "asked by a page's script",
    "attachments.file": "a file",
    "attachments.original": "a file",
    "attachments.thumbnail": "a picture",
    "health.health": "for a watchman",
    "imports.faults": "rows for a spreadsheet",
    "imports.preview": "only of a file; tests/web/test_imports.py looks at it",
    "jobs.offers": "a piece of a page",
    "jobs.seen_before": "a piece of a page",
    "operations.sign_off": "stands on the head's page; its own shows faults",
    "papers.tags": "a paper, of what a form says",
    "shop.logo": "a picture",
    "assets.font": "a typeface",
    "static": "styles and scripts",
    "warranty.change": "only of a return; tests/browser/test_pages.py looks at such a booking",
}
"""Endpoints that the owner of a shop full of work comes to by no link, and why."""


@pytest.fixture(scope="module")
def served(tmp_path_factory: pytest.TempPathFactory, demo_shop: DemoShop) -> Iterator[Served]:
    """The invented shop, running."""
    folder = demo_shop.copy_to(tmp_path_factory.mktemp("demo") / "shop")
    with serving(folder) as running:
        yield running


@pytest.fixture(scope="module")
def context(chromium: Browser, served: Served, demo_shop: DemoShop) -> Iterator[BrowserContext]:
    """A profile with the owner signed in."""
    row = profile(chromium, served.address, viewport=DESKTOP)
    enter(row, *re.findall(r"^  (\w+) +(\S+)$", demo_shop.said, re.MULTILINE)[0])
    yield row
    row.close()


def enter(context: BrowserContext, login: str, password: str) -> None:
    """Sign in."""
    tab = context.new_page()
    sign_in(tab, login, password)
    tab.close()


@dataclass(frozen=True, order=True)
class Answer:
    """The answer at an address: the length and text of a page, nothing of a file."""

    length: int
    address: str
    text: str


@pytest.fixture(scope="module")
def pages(context: BrowserContext, served: Served) -> dict[str, Answer]:
    """The largest page of each endpoint that links lead to, from the floor on."""
    return crawl(context, served, ["/", *BESIDES, *OF_WORK])


def crawl(context: BrowserContext, served: Served, starts: Iterable[str]) -> dict[str, Answer]:
    """The largest page of each endpoint that links lead to, by its endpoint.

    Asked without the browser, whose cookies are shown: a page is as long either way.
    """
    client = served.app.test_client()
    for cookie in context.cookies():
        client.set_cookie(cookie["name"], cookie["value"])
    seen = dict.fromkeys(starts)
    answers: dict[str, dict[str, Answer]] = defaultdict(dict)
    for most, order in ((FIRST, list), (OF_EACH, reversed)):
        waiting = deque(order(list(seen)))
        while waiting:
            address = waiting.popleft()
            endpoint = endpoint_of(served, address)
            if endpoint is None or address in answers[endpoint] or len(answers[endpoint]) >= most:
                continue
            answer = answers[endpoint][address] = ask(client, address)
            new = [
                link for link in links_of(answer.text, served.address + address) if link not in seen
            ]
            seen.update(dict.fromkeys(new))
            waiting.extend(new)
    return {endpoint: max(rows.values()) for endpoint, rows in answers.items() if rows}


def endpoint_of(served: Served, address: str) -> str | None:
    """The endpoint that answers a GET at an address; None where there is none to follow."""
    try:
        endpoint, _ = served.app.url_map.bind("localhost").match(urlsplit(address).path, "GET")
    except (HTTPException, RequestRedirect):
        return None
    return None if endpoint == "static" else str(endpoint)


def ask(client: FlaskClient, address: str) -> Answer:
    """The answer at an address, which must be a good one."""
    answer = client.get(address, follow_redirects=True)
    assert answer.status_code == 200, f"{address}: {answer.status}"
    text = answer.text if answer.mimetype == "text/html" else ""
    return Answer(len(text), address, text)


def links_of(text: str, address: str) -> Iterator[str]:
    """The addresses of this server that a page leads to."""
    for link in lxml.html.fromstring(text).xpath("//a/@href") if text else ():
        target = urlsplit(urljoin(address, link))
        if target.netloc == urlsplit(address).netloc:
            yield target.path + (f"?{target.query}" if target.query else "")


def endpoints(served: Served) -> set[str]:
    """Every endpoint that answers a GET."""
    return {rule.endpoint for rule in served.app.url_map.iter_rules() if takes(rule, "GET")}


def test_links_lead_to_every_page(pages: dict[str, Answer], served: Served) -> None:
    missing = endpoints(served) - pages.keys() - NO_PAGES.keys() - BY_TOKEN
    assert sorted(missing) == [], sorted(missing)


def test_every_page_is_fit(context: BrowserContext, pages: dict[str, Answer]) -> None:
    assert_all_fit(context, pages, "full")


def test_every_page_of_a_shop_with_nothing_yet_is_fit(
    chromium: Browser, pages: dict[str, Answer], tmp_path: Path, migrated_file: Path
) -> None:
    with serving(tmp_path / "shop", migrated_file) as empty:
        with session_factory(empty.app.extensions["shopflow.engine"]).begin() as db:
            factories.create_shop(db)
            factories.create_person(db, Role.OWNER)
        context = profile(chromium, empty.address)
        enter(context, Role.OWNER.value, factories.PASSWORD)
        answer = crawl(context, empty, ["/", *BESIDES])
        assert len(answer) > 40
        # A page that says the same in a shop full of work is looked at there.
        full = {main_of(page.text) for page in pages.values() if page.text}
        own = {name: page for name, page in answer.items() if main_of(page.text) not in full}
        assert len(own) > 25
        assert_all_fit(context, own, "empty")
        context.close()


def main_of(text: str) -> str:
    """The main part of a page, less what is new each time it is asked for; empty for a file."""
    if not text:
        return ""
    main = lxml.html.fromstring(text).find(".//main")
    for field in main.xpath(".//input[@type='hidden']"):
        field.set("value", "")
    return str(lxml.html.tostring(main, encoding="unicode"))


def assert_all_fit(context: BrowserContext, pages: dict[str, Answer], name: str) -> None:
    """Nothing is wrong with any page in a window of any size."""
    tab = context.new_page()
    complaints: list[str] = []
    tab.on("pageerror", lambda error: complaints.append(str(error)))
    faults = {}
    for endpoint, page in sorted(pages.items()):
        if page.text:
            tab.goto(page.address)
            faults[page.address] = faults_of(tab, f"{name}-{endpoint}")
    tab.close()
    assert {address: value for address, value in faults.items() if value} == {}
    assert complaints == []


def faults_of(tab: Page, name: str) -> list[str]:
    """Faults of a page for eyes, gloves and screen readers."""
    rows = []
    for size in (REFLOWED, DESKTOP, TABLET):
        tab.set_viewport_size(size)
        if not tab.evaluate(NO_SIDEWAYS_SCROLL):
            rows.append(f"scrolls sideways at {size['width']}")
        rows += [f"small at {size['width']}: {html}" for html in tab.evaluate(SMALL_TARGETS)]
        take_picture(tab, name, size["width"])
    return rows + [f"{rule['id']}: {rule['nodes'][0]['html'][:200]}" for rule in violations(tab)]


def take_picture(tab: Page, endpoint: str, width: int) -> None:
    folder = os.environ.get("SHOPFLOW_SCREENSHOTS")
    if folder:
        tab.screenshot(path=Path(folder) / f"{endpoint}-{width}.png", full_page=True)
