"""A two-head turbo job from the phone call to shipping, by four people, each with their rights."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

import pymupdf
import pytest
from playwright.sync_api import Browser, Page, expect

from shopflow.database import session_factory
from shopflow.models import Role
from shopflow.services.routing import work_plans
from tests import factories, photos
from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import DESKTOP, TABLET, Served
from tests.browser.fitness import assert_fit

pytestmark = pytest.mark.slow

LIFTS = ("0.100", "0.200", "0.300", "0.400")
BEFORE = ("58.0", "104.0", "131.0", "142.0")
AFTER = ("63.5", "111.0", "139.5", "151.0")
STEPS = (
    {"kind": "inspection", "planned_minutes": "40", "price": "60.00"},
    {"kind": "seat-cut", "planned_minutes": "90", "price": "180.00"},
    {"kind": "assembly", "planned_minutes": "60", "price": "90.00"},
)
SIZES = {
    Role.OWNER: DESKTOP,
    Role.COUNTER: DESKTOP,
    Role.MACHINIST: TABLET,
    Role.READER: TABLET,
}


@dataclass(frozen=True)
class Shop:
    """Four people, each at a browser of their own."""

    owner: Page
    counter: Page
    machinist: Page
    reader: Page


@pytest.fixture
def shop(chromium: Browser, served: Served) -> Iterator[Shop]:
    """A shop with a saved routing, and its four people signed in."""
    with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
        factories.create_shop(db)
        work_plans.save(db, factories.BY, "Seats for boost", "", STEPS)
        for role in SIZES:
            factories.create_person(db, role, login=role.value)
    contexts = {
        role: profile(chromium, served.address, viewport=size) for role, size in SIZES.items()
    }
    pages = {}
    for role, context in contexts.items():
        pages[role.value] = context.new_page()
        sign_in(pages[role.value], role.value)
    yield Shop(**{name: pages[name] for name in ("owner", "counter", "machinist", "reader")})
    for context in contexts.values():
        context.close()


def fill(page: Page, **values: str) -> None:
    """Fill fields by their names in the form, hyphens written as two underscores."""
    for name, value in values.items():
        page.locator(f"[name='{name.replace('__', '-')}']").fill(value)


def assert_refused(page: Page, path: str) -> None:
    """The page is shut for this person, and says so in words."""
    answer = page.goto(path)
    assert answer is not None
    assert answer.status == 403, path


def test_a_turbo_job_goes_from_the_phone_call_to_shipping(shop: Shop) -> None:
    number = book_in_by_phone(shop)
    tags = [f"{number}-A", f"{number}-B"]
    inspect(shop, number, tags[0])
    quote_and_approve(shop, number, tags[0])
    for tag in tags:
        work_on(shop, tag)
    certify(shop, tags[0])
    hand_off(shop, tags)
    ship(shop, number)
    check_as_reader(shop, number, tags[0])


def book_in_by_phone(shop: Shop) -> str:
    """The counter books both heads in while the customer is on the phone."""
    page = shop.counter
    page.goto("/jobs/new")
    fill(page, customer__name="Marrow Creek Racing", customer__phone="555 0144")
    press(page, "Continue to engine type")
    fill(page, engine_type__builder="Hollin", engine_type__family="K18T")
    fill(page, engine_type__cylinders="4", engine_type__displacement="1792 cm3")
    press(page, "Continue to heads")
    fill(page, heads__0__casting_number="HC 4417-208")
    page.get_by_text("Parts received", exact=True).click()
    fill(page, heads__0__counts__intake_valves="16")
    page.get_by_text("Photos", exact=True).click()
    page.locator("[name='heads-0-photos-chosen']").set_input_files(
        {"name": "as-it-came.jpg", "mimeType": "image/jpeg", "buffer": photos.jpeg()}
    )
    press(page, "Add head")
    fill(page, heads__1__casting_number="HC 4417-209")
    page.get_by_text("Parts received", exact=True).last.click()
    fill(page, heads__1__counts__intake_valves="16")
    press(page, "Continue to job")
    page.get_by_text("Engine use", exact=True).click()
    page.get_by_label("Induction").select_option("turbocharged")
    fill(page, job__boost="24 psi", job__asked_for="Two heads for the season; seats for boost.")
    page.locator("[name='routing_id']").select_option(label="Seats for boost")
    assert_fit(page)
    press(page, "Book, print labels")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Labels for job ")
    number = page.get_by_role("heading", level=1).inner_text().removeprefix("Labels for job ")
    page.goto(f"/jobs/{number}")
    expect(page.get_by_role("heading", name="2 heads")).to_be_visible()
    return number


def inspect(shop: Shop, number: str, tag: str) -> None:
    """The machinist inspects and flow-tests before any metal is cut; the reader only reads."""
    page = shop.machinist
    assert_refused(page, "/jobs/new")
    assert_refused(page, f"/jobs/{number}/approve")
    page.goto(f"/heads/{tag}")
    press(page, "Start step")
    sign_off(page)
    expect(page.get_by_role("status")).to_contain_text("Signed off:")
    expect(page.get_by_role("button", name="Start step", exact=True)).to_have_count(0)
    run_flow_test(page, tag, "as received", BEFORE)
    shop.reader.goto(f"/heads/{tag}")
    expect(shop.reader.get_by_role("button", name="Start step")).to_have_count(0)
    assert_refused(shop.reader, f"/heads/{tag}/test")
    assert_refused(shop.reader, f"/jobs/{number}/change")


def sign_off(page: Page) -> None:
    """Sign the step in hand off, saying why its measurements are left out."""
    fill(page, not_measured_because="The gauges are out for calibration.")
    press(page, "Sign off step")


def run_flow_test(page: Page, tag: str, stage: str, readings: tuple[str, ...]) -> None:
    """A test by the form; what was set up before is there again."""
    page.goto(f"/heads/{tag}/test")
    fill(page, stage=stage, cylinder="1")
    if stage == "as received":
        fill(page, air__barometer="29.41 inHg", air__temperature="71.5 degF")
        fill(page, valve__head_diameter="1.50 in", uncertainty__repeatability="0.4 %")
        fill(page, uncertainty__calibration="1.2 %")
        for row in range(page.locator("table.readings tbody tr").count()):
            lift = LIFTS[row] if row < len(LIFTS) else ""
            page.locator(f"[name='rows-{row}-lift']").fill(lift)
    page.locator("[name='rows-0-first']").focus()
    for reading in readings:
        page.keyboard.type(reading)
        page.keyboard.press("Enter")
    expect(page.locator("#worked-out svg:visible").first).to_be_visible()
    follow(page.locator("#save"))
    expect(page.get_by_role("heading", level=1)).to_contain_text(stage)


def quote_and_approve(shop: Shop, number: str, tag: str) -> None:
    """The counter quotes and takes the customer's word; only then may metal be cut."""
    page = shop.counter
    page.goto(f"/jobs/{number}/quote")
    expect(page.get_by_text("$660.00").first).to_be_visible()
    follow(page.locator("main form button.button, main form input.button").first)
    page.goto(f"/jobs/{number}/approve")
    fill(page, approved_by="Ada Marrow")
    page.locator("[name='approved_how']").select_option("telephone")
    follow(page.locator("main form button.button"))
    expect(page.get_by_text("is approved. Work may start.")).to_be_visible()
    assert_fit(page)
    shop.machinist.goto(f"/heads/{tag}")
    expect(shop.machinist.get_by_role("button", name="Start step", exact=True)).to_be_visible()


def work_on(shop: Shop, tag: str) -> None:
    """The machinist goes through the routing, and tests again after the seats."""
    page = shop.machinist
    page.goto(f"/heads/{tag}")
    while page.get_by_role("button", name="Start step", exact=True).count():
        step = page.locator("#next-title").inner_text()
        press(page, "Start step")
        sign_off(page)
        expect(page.get_by_role("status")).to_contain_text(f"Signed off: {step}.")
        if step == "Cut seats":
            run_flow_test(page, tag, "seat cut" if tag.endswith("A") else "as received", AFTER)
            page.goto(f"/heads/{tag}")
    expect(page.get_by_text("All steps done")).to_be_visible()


def certify(shop: Shop, tag: str) -> None:
    """Drafted by the machinist, checked and issued by the owner."""
    page = shop.machinist
    page.goto(f"/heads/{tag}/certify")
    press(page, "Save draft")
    draft = page.url
    expect(page.get_by_role("button", name="Issue certificate")).to_have_count(0)
    shop.counter.goto(draft)
    expect(shop.counter.get_by_role("button", name="Confirm check")).to_have_count(0)
    page = shop.owner
    page.goto(draft)
    fill(page, statement="Read over against the bench sheets.")
    press(page, "Confirm check")
    press(page, "Issue certificate")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Certificate FC-")
    href = page.get_by_role("link", name="Open PDF").get_attribute("href")
    answer = shop.reader.request.get(href or "")
    with pymupdf.open(stream=answer.body()) as pdf:
        text = "\n".join(sheet.get_text() for sheet in pdf)
    for words in ("HC 4417-208", "Marrow Creek Racing", "seat cut", "expanded for 95 %"):
        assert words in text


def hand_off(shop: Shop, tags: list[str]) -> None:
    """The machinist writes the hand-off notes; the owner signs them."""
    for tag in tags:
        page = shop.machinist
        page.goto(f"/heads/{tag}/hand-off")
        fill(page, addressee="Marrow Creek Racing", to_check="Set lash cold; check gasket bore.")
        fill(page, intake__base_seat_load="90 lbf", intake__port_pressure="24 psi")
        fill(page, intake__valve_head_diameter="1.50 in")
        follow(page.locator("main form input[name='save'], main form button[name='save']"))
        expect(page.get_by_role("button", name="Sign note")).to_have_count(0)
        shop.owner.goto(f"/heads/{tag}/hand-off")
        press(shop.owner, "Sign note")
        expect(shop.owner.get_by_text("signed", exact=False).first).to_be_visible()


def ship(shop: Shop, number: str) -> None:
    """The counter invoices, is paid, ticks the parts off and ships both heads."""
    page = shop.counter
    page.goto(f"/jobs/{number}")
    press(page, "Mark ready")
    page.goto(f"/jobs/{number}/invoice")
    follow(page.locator("main form .buttons .button").first)
    page.goto(f"/jobs/{number}/money/payments/new")
    fill(page, method="bank transfer")
    follow(page.locator("main form .buttons .button").first)
    page.goto(f"/jobs/{number}/collection")
    assert_fit(page)
    for tick in page.get_by_label("All 16 intake valves").all():
        tick.check()
    page.locator("[name='how']").select_option("shipped")
    fill(page, handed_to="Marrow Creek Racing, dock 2", carrier="Upland Freight", parcels="2")
    fill(page, tracking_number="UF 2207 118", packed_by="Wim")
    press(page, "Hand over")
    expect(page.get_by_text("UF 2207 118").first).to_be_visible()
    answer = page.request.get(f"/papers/collection/{number}.pdf")
    with pymupdf.open(stream=answer.body()) as pdf:
        assert "Upland Freight" in pdf[0].get_text()


def check_as_reader(shop: Shop, number: str, tag: str) -> None:
    """Whoever may only read finds all of it, and nothing to press."""
    page = shop.reader
    page.goto(f"/jobs/{number}")
    expect(page.get_by_text("Shipped").first).to_be_visible()
    assert page.locator("main form").count() == 0
    page.goto("/look-up?q=hollin+k18t")
    follow(page.get_by_role("link", name=tag).first)
    expect(page.get_by_role("heading", level=1)).to_have_text(tag)
    for role in (shop.counter, shop.machinist, shop.reader):
        assert_refused(role, "/people")
