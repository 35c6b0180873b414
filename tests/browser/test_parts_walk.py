"""One job from found to paid at the counter: two heads, eight parts, welding, a declined line."""

from __future__ import annotations

from decimal import Decimal
from pathlib import Path

import pymupdf
import pytest
from playwright.sync_api import Browser, Page, expect
from sqlalchemy import select, text
from sqlalchemy.orm import Session

from shopflow.database import session_factory
from shopflow.models import Job, Role
from shopflow.services.actor import Actor
from shopflow.services.billing import balances
from shopflow.services.parts import catalog, stock, suppliers
from shopflow.services.routing import holds, operations
from tests import factories
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import DESKTOP, Served
from tests.browser.fitness import assert_fit

pytestmark = pytest.mark.slow

PARTS = (
    ("EV-36", "Exhaust valve, 36 mm", "18.50", "8"),
    ("IV-44", "Intake valve, 44 mm", "21.00", "8"),
    ("VG-8", "Valve guide, bronze", "7.85", "16"),
    ("VS-8", "Valve stem seal", "3.40", "16"),
)
IN_STOCK = {"VS-8": 100, "VG-8": 20}
WELDING, DECLINED = "Weld crack between seats", "Club polish"
WIDTHS = (320, 390, 820, 1366)


@pytest.fixture
def tags(served: Served) -> list[str]:
    """Tags of two heads on a job that was inspected, in a shop that uses parts."""
    with sessions(served).begin() as db:
        factories.create_shop(db, uses_parts=True, tax_rate_percent="8.25")
        person = factories.create_person(db, Role.COUNTER, login="counter")
        factories.create_person(db, Role.OWNER)
        by = Actor(person, factories.NOW)
        valves = suppliers.add(db, by, {"name": "Northgate Valves", "email": "o@north.example"})
        suppliers.add(db, by, {"name": "Halden Arc Works"})
        for number, name, price, _ in PARTS:
            part = catalog.add(db, by, {"number": number, "name": name, "price": price,
                                        "cost": "1.00", "supplier_id": valves.id})  # fmt: skip
            stock.count(db, by, part, Decimal(IN_STOCK.get(number, 0)))
        job = factories.create_job(db, head_count=2)
        for visit in job.heads:
            factories.create_operation(db, visit, "valve-grind", price="120.00")
        return [visit.tag for visit in job.heads]


def sessions(served: Served):
    return session_factory(served.app.extensions["shopflow.engine"])


def the_job(db: Session) -> Job:
    return db.scalars(select(Job)).one()


def seen_at_every_width(page: Page, pictures: Path, name: str) -> None:
    """The page is fit at every width, and leaves a picture of each."""
    for width in WIDTHS:
        page.set_viewport_size({"width": width, "height": 900})
        page.screenshot(path=pictures / f"parts-{name}-{width}.png", full_page=True)
        assert_fit(page)
    page.set_viewport_size(DESKTOP)


def test_a_job_with_parts_goes_from_found_to_paid(
    chromium: Browser, served: Served, tags: list[str], pictures: Path
) -> None:
    context = profile(chromium, served.address, viewport=DESKTOP)
    page = context.new_page()
    sign_in(page, "counter")
    number = tags[0].rpartition("-")[0]
    need_parts(page, tags)
    add_lines(page, number, tags[0])
    quote(page, number)
    wait(page, tags, pictures)
    order(page, served, pictures)
    weld(page, number, pictures)
    fit(page, served, tags)
    seen_at_every_width(page, pictures, "head")
    bill(page, served, number, pictures)
    context.close()


def need_parts(page: Page, tags: list[str]) -> None:
    """Four parts of the catalog on each head."""
    for tag in tags:
        for _, name, _, quantity in PARTS:
            page.goto(f"/heads/{tag}")
            press(page, "Add part")
            choice = page.locator("[name='part_id'] option", has_text=name)
            page.locator("[name='part_id']").select_option(choice.get_attribute("value"))
            page.locator("[name='quantity']").fill(quantity)
            press(page, "Add part")
            expect(page.get_by_role("status")).to_have_text(f"Part added: {name}.")


def add_lines(page: Page, number: str, tag: str) -> None:
    """Welding outside on the first head, and a fee that the customer will not want."""
    page.goto(f"/jobs/{number}/lines/new?kind=outside+work&head={tag}")
    page.locator("[name='description']").fill(WELDING)
    page.locator("[name='unit_price']").fill("285.00")
    follow(page.locator("main form .buttons .button").first)
    page.goto(f"/jobs/{number}/lines/new?kind=fee")
    page.locator("[name='description']").fill(DECLINED)
    page.locator("[name='unit_price']").fill("45.00")
    follow(page.locator("main form .buttons .button").first)
    expect(page.get_by_role("status")).to_have_text(f"Line added: {DECLINED}.")


def quote(page: Page, number: str) -> None:
    """The quote is sent, and approved but for one line."""
    page.goto(f"/jobs/{number}/quote")
    follow(page.locator("main form button.button, main form input.button").first)
    page.goto(f"/jobs/{number}/approve")
    page.locator("[name='approved_by']").fill("Orla Finch")
    page.locator("[name='approved_how']").select_option("telephone")
    page.get_by_label(DECLINED).uncheck()
    follow(page.locator("main form button.button"))
    expect(page.get_by_role("status")).to_contain_text("is approved")


def wait(page: Page, tags: list[str], pictures: Path) -> None:
    """Both heads wait for their parts."""
    for tag in tags:
        page.goto(f"/heads/{tag}")
        press(page, "Wait for parts")
        expect(page.get_by_text("Waiting for parts:")).to_be_visible()
    seen_at_every_width(page, pictures, "waiting")


def order(page: Page, served: Served, pictures: Path) -> None:
    """Parts that are short are ordered, come in two deliveries, and end both holds."""
    page.goto("/purchase-orders")
    seen_at_every_width(page, pictures, "to-order")
    follow(page.get_by_role("button", name="Draft order", exact=True))
    seen_at_every_width(page, pictures, "draft-order")
    press(page, "Place order")
    href = page.get_by_role("link", name="Order (PDF)").get_attribute("href")
    with pymupdf.open(stream=page.request.get(href or "").body()) as pdf:
        words = pdf[0].get_text()
    assert "Northgate Valves" in words
    # 8 on each head; of the guides 32 are needed and 20 lie there.
    for quantity, name in (("16", "Exhaust valve, 36 mm"), ("16", "Intake valve"), ("12", "guide")):
        assert name in words
        assert quantity in words
    press(page, "Receive some")
    page.get_by_label("Received of Exhaust valve, 36 mm").fill("8")
    page.get_by_label("Received of Valve guide").fill("0")
    press(page, "Receive")
    expect(page.get_by_text("Partly received")).to_be_visible()
    seen_at_every_width(page, pictures, "part-received")
    with sessions(served)() as db:
        # The first head has its valves, and 16 of the 20 guides: it waits no more.
        assert [len(holds.still(visit)) for visit in the_job(db).heads] == [0, 1]
    press(page, "Receive all")
    with sessions(served)() as db:
        assert [len(holds.still(visit)) for visit in the_job(db).heads] == [0, 0]


def weld(page: Page, number: str, pictures: Path) -> None:
    """The first head goes to the welder and back."""
    page.goto(f"/jobs/{number}/parts")
    seen_at_every_width(page, pictures, "of-job")
    follow(page.get_by_role("link", name=f"Send out {WELDING}"))
    page.locator("[name='supplier_id']").select_option(label="Halden Arc Works")
    press(page, "Send out")
    page.goto("/sent-out")
    expect(page.get_by_text("Halden Arc Works")).to_be_visible()
    seen_at_every_width(page, pictures, "sent-out")
    follow(page.get_by_role("link", name=f"Record return of {WELDING}"))
    page.locator("[name='cost']").fill("190.00")
    press(page, "Record return")
    expect(page.get_by_text("cost $190.00")).to_be_visible()


def fit(page: Page, served: Served, tags: list[str]) -> None:
    """Each part is fitted with one tap, and the steps are signed off."""
    for tag in tags:
        page.goto(f"/heads/{tag}")
        for _ in PARTS:
            press(page, "Fit")
            expect(page.get_by_role("status")).to_contain_text("Fitted: ")
        expect(page.get_by_role("button", name="Fit", exact=True)).to_have_count(0)
    with sessions(served).begin() as db:
        by = factories.someone(db)
        for visit in the_job(db).heads:
            for step in visit.operations:
                operations.sign_off(db, by, step, {"not_measured_because": "gauge is out"})
        left = {row.part.number: row.on_hand for row in catalog.search(db)}
    # 16 of each ordered; of the guides 20 + 12 - 32, of the seals 100 - 32.
    assert left == {"EV-36": 0, "IV-44": 0, "VG-8": 0, "VS-8": 68}


def bill(page: Page, served: Served, number: str, pictures: Path) -> None:
    """All but the declined line is invoiced, and paid with the sum filled in."""
    page.goto(f"/jobs/{number}/invoice")
    expect(page.get_by_text(DECLINED)).to_have_count(0)
    press(page, "Issue invoice")
    page.goto(f"/jobs/{number}/money/payments/new")
    # By hand: 240 + 285 + 2 (8 × 18.50 + 8 × 21.00 + 16 × 7.85 + 16 × 3.40) = 1,517.00, with
    # 8.25 % of tax, 125.1525, 1,642.15.
    expect(page.locator("[name='amount']")).to_have_value("1642.15")
    page.locator("[name='method']").fill("card")
    follow(page.locator("main form .buttons .button").first)
    page.goto("/bookkeeping")
    seen_at_every_width(page, pictures, "bookkeeping")
    with sessions(served)() as db:
        assert balances.of_job(db, the_job(db)).balance == 0
        rows = db.execute(text("SELECT detail, -sum(amount) FROM ledger_posting WHERE role = "
                               "'sales' GROUP BY detail")).all()  # fmt: skip
    assert dict(rows) == {"work": 24000, "outside work": 28500, "part": 99200}
