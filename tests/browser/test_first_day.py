"""A shop's first day in a real browser: from an empty folder to the head collected and paid for.

The server is a process of its own, as a shop starts it; the owner and the machinist each have a
browser. Each step of the walk is a function of its own, told by what it does.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

import pymupdf
import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.browser.actions import follow, press, profile, sign_in
from tests.browser.conftest import DESKTOP, TABLET
from tests.reliability.serving import Server, serving

pytestmark = pytest.mark.slow

OWNER = ("nila", "porting by lamplight")
MACHINIST = ("wim", "seats before bowls always")
CUSTOMER = "Marrow Creek Racing"
STEPS = {
    "Tear down": "60.00",
    "Pressure-test": "65.00",
    "Cut seats": "160.00",
    "Flow-test": "75.00",
}
LIFTS = ("0.100", "0.200", "0.300", "0.400")
BEFORE = ("58.0", "104.0", "131.0", "142.0")
AFTER = ("63.5", "111.0", "139.5", "151.0")
LEFT_OUT = "The gauges are out for calibration."


@dataclass(frozen=True)
class Shop:
    """The running server, and the two people at their browsers."""

    server: Server
    owner: Page
    machinist: Page


@pytest.fixture
def shop(chromium: Browser, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[Shop]:
    """A server over a folder that is not there yet, its console in a log."""
    monkeypatch.setenv("PYTHONUNBUFFERED", "1")
    with serving(tmp_path / "shop") as server:
        contexts = [profile(chromium, server.address, viewport=size) for size in (DESKTOP, TABLET)]
        owner, machinist = (context.new_page() for context in contexts)
        yield Shop(server, owner, machinist)
        for context in contexts:
            context.close()


def test_the_first_day_from_an_empty_shop_to_the_head_collected(shop: Shop) -> None:
    set_up(shop)
    hire(shop)
    engine_type(shop)
    number = book_in(shop)
    tag = f"{number}-A"
    plan(shop, tag)
    quote_and_approve(shop, number)
    tear_down(shop, tag)
    pressure_test(shop, tag)
    flow_test(shop, tag, "as received", BEFORE, after="")
    cut_seats(shop, tag)
    flow_test(shop, tag, "seat cut", AFTER, after="Cut seats")
    finish(shop, tag)
    compare(shop, tag)
    certify(shop, tag)
    hand_off(shop, tag)
    invoice_and_pay(shop, number)
    collect(shop, number)


def field(page: Page, name: str) -> Locator:
    """A field by its name in the form, in the page's main part."""
    return page.locator(f"main [name='{name}']").first


def fill(page: Page, **values: str) -> None:
    """Fill fields by their names in the form, hyphens written as two underscores."""
    for name, value in values.items():
        field(page, name.replace("__", "-")).fill(value)


def send(page: Page, action: str = "") -> None:
    """Press the main button of the page's form, or of the one that posts to such an address."""
    form = f"form[action$='{action}']" if action else "form"
    button = page.locator(f"main {form}:has(.button)").first
    follow(button.locator("button.button, input.button").first)


def pdf_text(page: Page, path: str) -> str:
    """The text of a document, fetched as the browser would."""
    answer = page.request.get(path)
    assert answer.status == 200, path
    with pymupdf.open(stream=answer.body()) as pdf:
        return "\n".join(sheet.get_text() for sheet in pdf)


def set_up(shop: Shop) -> None:
    """The empty shop asks to be set up, with the code from the console where it wants one."""
    page = shop.owner
    page.goto("/")
    expect(page).to_have_url(re.compile("/set-up$"))
    if field(page, "code").count():
        printed = re.search(r"[Ss]et-up code: (\S+?)\.?(\s|$)", shop.server.log.read_text())
        assert printed, shop.server.log.read_text()
        fill(page, code=printed[1])
    fill(page, name="Falling Water Heads", owner_name="Nila Marsh", login=OWNER[0])
    fill(page, password=OWNER[1], again=OWNER[1])
    field(page, "time_zone").select_option("America/Chicago")
    send(page)
    expect(page.get_by_role("heading", level=1)).to_have_text("Floor")


def hire(shop: Shop) -> None:
    """The owner makes an account for the machinist, who signs in."""
    page = shop.owner
    page.goto("/people/new")
    fill(page, name="Wim Sand", login=MACHINIST[0], password=MACHINIST[1])
    field(page, "role").select_option("machinist")
    send(page)
    expect(page.get_by_text("Wim Sand").first).to_be_visible()
    sign_in(shop.machinist, *MACHINIST)


def engine_type(shop: Shop) -> None:
    """The first engine type."""
    page = shop.owner
    page.goto("/engines/new")
    fill(page, builder="Hollin", family="K18T", displacement="1781 cm3", cylinders="4")
    fill(page, valves_per_cylinder="2", aliases="eighteen turbo")
    send(page)
    expect(page.get_by_role("heading", level=1)).to_contain_text("Hollin K18T")


def book_in(shop: Shop) -> str:
    """A customer walks in with a head of that type."""
    page = shop.owner
    page.goto("/jobs/new")
    fill(page, customer__name=CUSTOMER, customer__phone="555 0144")
    press(page, "Continue to engine type")
    fill(page, engine_find="eighteen turbo")
    page.locator("main input[name='engine_type_id']:not([value='new'])").first.check()
    press(page, "Continue to heads")
    fill(page, heads__0__casting_number="HC 4417-208", heads__0__serial="A 1207")
    press(page, "Continue to job")
    fill(page, job__asked_for="Seats for more low lift flow.")
    follow(page.locator("main form.booking .buttons .button").last)
    page.goto("/")
    tag = page.locator("table.floor tbody th a").first.inner_text()
    return tag.removesuffix("-A")


def plan(shop: Shop, tag: str) -> None:
    """The steps, each with its price."""
    page = shop.owner
    for name, price in STEPS.items():
        page.goto(f"/heads/{tag}/steps/new")
        field(page, "kind_id").select_option(label=name)
        fill(page, price=price)
        send(page)
    expect(page.locator("table.routing tbody tr")).to_have_count(len(STEPS))


def quote_and_approve(shop: Shop, number: str) -> None:
    """A quote of all of it; the customer says yes."""
    page = shop.owner
    page.goto(f"/jobs/{number}/quote")
    expect(page.get_by_text("$360.00").first).to_be_visible()
    follow(page.locator("main form .buttons .button").first)
    page.goto(f"/jobs/{number}/approve")
    fill(page, approved_by="Ada Marrow")
    field(page, "approved_how").select_option("telephone")
    send(page)
    page.goto(f"/jobs/{number}")
    expect(page.get_by_text("Approved", exact=False).first).to_be_visible()


def start(shop: Shop, tag: str) -> None:
    """The machinist starts the next step, and is clocked on."""
    page = shop.machinist
    page.goto(f"/heads/{tag}")
    send(page, "/start")
    expect(page.get_by_text("Wim Sand working since").first).to_be_visible()


def sign_off(shop: Shop, tag: str) -> None:
    """The machinist signs the step in hand off, saying why measurements are missing, if any are."""
    page = shop.machinist
    page.goto(f"/heads/{tag}")
    if field(page, "not_measured_because").count():
        fill(page, not_measured_because=LEFT_OUT)
    press(page, "Sign off step")
    expect(page.get_by_text("Signed off:").first).to_be_visible()


def tear_down(shop: Shop, tag: str) -> None:
    """A step without its measurement is not signed off before a reason is given, which is kept."""
    start(shop, tag)
    page = shop.machinist
    press(page, "Sign off step")
    asked = "Measure installed height of the spring, or enter why"
    expect(page.get_by_text(asked).first).to_be_visible()
    sign_off(shop, tag)
    expect(page.get_by_text(f"Not measured: {LEFT_OUT}").first).to_be_visible()


def pressure_test(shop: Shop, tag: str) -> None:
    """The pressure test's result comes before its sign-off, and is on the work order."""
    start(shop, tag)
    page = shop.machinist
    follow(page.get_by_role("link", name="Record test result").first)
    expect(page.get_by_text("compressed air stores energy").first).to_be_visible()
    fill(page, medium="water", pressure="40 psi", duration="10 min", drop="0 psi")
    field(page, "result").select_option("passed")
    send(page)
    expect(page.get_by_text("water, 40 psi, 10 min, drop 0 psi").first).to_be_visible()
    sign_off(shop, tag)
    order = pdf_text(page, f"/papers/work-order/{tag.removesuffix('-A')}.pdf")
    assert "water, 40 psi, 10 min, drop 0 psi" in order


def cut_seats(shop: Shop, tag: str) -> None:
    """The approved cut."""
    start(shop, tag)
    sign_off(shop, tag)


def finish(shop: Shop, tag: str) -> None:
    """The final test's step is signed off: nothing is left to do."""
    start(shop, tag)
    sign_off(shop, tag)
    expect(shop.machinist.get_by_text("All steps done").first).to_be_visible()


def flow_test(shop: Shop, tag: str, stage: str, readings: tuple[str, ...], after: str) -> None:
    """A test typed at the bench: set up, then value, Enter, next."""
    page = shop.machinist
    page.goto(f"/heads/{tag}/test")
    fill(page, stage=stage, cylinder="1")
    field(page, "side").select_option("intake")
    if after:
        field(page, "after").select_option(label=after)
    if after:
        # The day's second test finds everything set up, and folded.
        page.locator("#set-up summary").click()
    fill(page, air__barometer="29.41 inHg", air__temperature="71.5 degF")
    fill(page, valve__head_diameter="1.50 in", uncertainty__calibration="1.2 %")
    fill(page, uncertainty__repeatability="0.4 %")
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
    expect(page.locator("table.figures").first.locator("tbody tr")).to_have_count(len(LIFTS))


def compare(shop: Shop, tag: str) -> None:
    """The gain of the cut, drawn and in a table."""
    page = shop.machinist
    page.goto(f"/heads/{tag}/compare")
    expect(page.locator("svg.chart")).not_to_have_count(0)
    # 151 against 142 at 0.400 in.
    expect(page.locator("main")).to_contain_text("6.3 %")


def certify(shop: Shop, tag: str) -> None:
    """Drafted by the machinist, checked and issued by the owner."""
    page = shop.machinist
    page.goto(f"/heads/{tag}/certify")
    follow(page.locator("main form .buttons .button").first)
    draft = page.url
    page = shop.owner
    page.goto(draft)
    fill(page, statement="Read over against the bench sheets.")
    send(page, "/check")
    send(page, "/issue")
    expect(page.get_by_role("heading", level=1)).to_contain_text("Certificate FC-")
    href = page.locator("main a[href*='/papers/certificate']").first.get_attribute("href")
    text = pdf_text(page, href or "")
    for words in ("HC 4417-208", CUSTOMER, "seat cut", "End of certificate"):
        assert words in text


def hand_off(shop: Shop, tag: str) -> None:
    """The machinist writes the note, the owner signs it; the test's result is on the sheet."""
    page = shop.machinist
    page.goto(f"/heads/{tag}/hand-off")
    fill(page, addressee=CUSTOMER, intake__base_seat_load="90 lbf")
    fill(page, to_check="Set lash cold.")
    follow(page.locator("main form [name='save']").first)
    page = shop.owner
    page.goto(f"/heads/{tag}/hand-off")
    send(page, "/sign")
    text = pdf_text(page, f"/papers/hand-off/{tag}.pdf")
    for words in ("90", "Pressure test", "water, 40 psi", "Nila Marsh"):
        assert words in text


def invoice_and_pay(shop: Shop, number: str) -> None:
    """The job is ready, its work invoiced and paid in full."""
    page = shop.owner
    page.goto(f"/jobs/{number}")
    follow(page.get_by_role("button", name="Mark ready").first)
    page.goto(f"/jobs/{number}/invoice")
    follow(page.locator("main form .buttons .button").first)
    expect(page.get_by_role("heading", level=1)).to_contain_text("INV-")
    page.goto(f"/jobs/{number}/money/payments/new")
    fill(page, amount="360.00", method="bank transfer")
    send(page)
    page.goto(f"/jobs/{number}/money")
    expect(page.get_by_text("bank transfer").first).to_be_visible()


def collect(shop: Shop, number: str) -> None:
    """The customer takes the head away, and the floor is empty again."""
    page = shop.owner
    page.goto(f"/jobs/{number}/collection")
    fill(page, handed_to="Ada Marrow")
    press(page, "Hand over")
    expect(page.get_by_text("Ada Marrow").first).to_be_visible()
    page.goto("/")
    expect(page.get_by_text("No heads in the shop").first).to_be_visible()
