"""Photos, e-mail and private links in a real browser, at both widths."""

from __future__ import annotations

from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, BrowserContext, Page, expect

from shopflow.database import session_factory
from shopflow.models import Role
from shopflow.sender import Sender
from shopflow.services.actor import Actor
from shopflow.services.messaging import smtp_settings
from shopflow.services.shop import settings
from tests import factories, photos
from tests.browser.actions import follow, profile, sign_in
from tests.browser.conftest import SIZES, Served, serving
from tests.browser.fitness import assert_fit
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.optional import present
from tests.smtp import Postbox, free_port, mail_server


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory, migrated_file: Path) -> Iterator[Served]:
    """A shop with a certified head on a job, and a mail server set up that is down."""
    with serving(tmp_path_factory.mktemp("shop"), migrated_file) as served:
        with session_factory(served.app.extensions["shopflow.engine"]).begin() as db:
            fill(db, served.address)
        yield served


def fill(db, address: str) -> None:
    """The shop, its owner, and one job."""
    settings.change(db, factories.BY, factories.create_shop(db), {"web_address": address,
                "phone": "555 0142", "email": "counter@heads.example"})  # fmt: skip
    owner = factories.create_person(db, Role.OWNER)
    customer = factories.create_customer(db, name="Søren Madsby", email="soren@boats.example")
    job = factories.create_job(db, customer, promised_on="2026-12-01", head_count=2)
    visit = job.heads[0]
    factories.create_operation(db, visit, "teardown", price="140")
    tests = [factories.create_session(db, visit, text) for text in (INTAKE_US, AFTER_US)]
    factories.issue_certificate(db, Actor(owner, factories.NOW), tests)
    factories.create_mailbox(db, free_port())


@pytest.fixture(params=SIZES, ids=["desktop", "tablet"])
def context(
    request: pytest.FixtureRequest, chromium: Browser, running: Served
) -> Iterator[BrowserContext]:
    """A profile of the browser at this size."""
    opened = profile(chromium, running.address, viewport=request.param)
    yield opened
    opened.close()


@pytest.fixture
def page(context: BrowserContext) -> Page:
    """A tab, the owner signed in."""
    tab = context.new_page()
    sign_in(tab)
    return tab


@pytest.fixture
def look(page: Page, pictures: Path):
    """Check that a page is fit, and leave a picture of it."""

    def check(tab: Page, name: str) -> None:
        tab.wait_for_load_state("networkidle")
        width = present(tab.viewport_size)["width"]
        tab.screenshot(path=pictures / f"contact-{name}-{width}.png", full_page=True)
        assert_fit(tab)

    return check


def send_due(served: Served, postbox: Postbox) -> int:
    """Send the outbox through a mail server."""
    engine = served.app.extensions["shopflow.engine"]
    with session_factory(engine).begin() as db:
        smtp_settings.get_shop(db).port = postbox.port
    return Sender.of(served.app.config["SHOPFLOW"], engine).send_due()


@pytest.mark.slow
def test_photos_are_added_and_shown(page: Page, look, tmp_path: Path):
    page.goto("/jobs/2026-0001/files/add?head=2026-0001-A")
    look(page, "add-files")
    side = present(page.viewport_size)["width"]
    for name, content in (
        ("chamber.jpg", photos.jpeg(1600, 1000 + side)),
        ("deck.jpg", photos.from_a_telephone(900, 600 + side % 100)),
        ("readings.txt", f"44 mm, {side}\n".encode()),
        ("IMG_1.HEIC", b"\0\0\0\x18ftypheic" + b"\0" * 99),
    ):
        (tmp_path / name).write_bytes(content)
    page.get_by_label("Photos and documents").set_input_files(tmp_path / "IMG_1.HEIC")
    page.get_by_label("Caption").fill("Chamber 2 as it came, crack by the exhaust seat")
    page.get_by_label("Show to the customer on private links").check()
    follow(page.get_by_role("button", name="Add files", exact=True))
    expect(page.get_by_label("Caption")).to_have_value(
        "Chamber 2 as it came, crack by the exhaust seat"
    )
    expect(page.get_by_label("Show to the customer on private links")).to_be_checked()
    look(page, "add-files-refused")
    chosen = [tmp_path / name for name in ("chamber.jpg", "deck.jpg", "readings.txt")]
    page.get_by_label("Photos and documents").set_input_files(chosen)
    follow(page.get_by_role("button", name="Add files", exact=True))
    expect(page.get_by_role("status")).to_have_text("3 files added.")
    page.locator(".photos").scroll_into_view_if_needed()
    for image in page.locator(".photos img").all():
        expect(image).to_have_js_property("complete", True)
        assert image.evaluate("image => image.naturalWidth") > 0
    look(page, "head-with-photos")
    follow(page.locator(".photo a", has_text="Change").first)
    look(page, "change-file")


@pytest.mark.slow
def test_a_certificate_is_sent_and_the_outbox_tells(page: Page, look, running: Served):
    page.goto("/certificates/FC-2026-0001/1")
    follow(page.get_by_role("link", name="Send certificate"))
    look(page, "send")
    page.get_by_label("Add a private link").check()
    follow(page.get_by_role("button", name="Send message", exact=True))
    expect(page.get_by_role("status")).to_contain_text("is in the outbox")
    look(page, "job")
    with mail_server() as postbox:
        postbox.to_messages.append("550 the mailbox is full")
        assert send_due(running, postbox) == 0
    page.goto("/outbox")
    look(page, "outbox")
    follow(page.locator("tbody th a").first)
    look(page, "message")
    follow(page.get_by_role("button", name="Send again"))
    with mail_server() as postbox:
        assert send_due(running, postbox) == 1
        ((to, message),) = postbox.taken
    assert to == "soren@boats.example"
    words = present(message.get_body()).get_content()
    assert f"{running.address}/c/" in words
    page.goto("/e-mail")
    look(page, "mail-server")
    page.goto("/e-mail/test")
    look(page, "mail-test")


@pytest.mark.slow
def test_a_customer_opens_a_private_link_without_an_account(
    page: Page, look, chromium: Browser, running: Served
):
    page.goto("/jobs/2026-0001/link")
    look(page, "make-link")
    page.get_by_label("Show prices, payments").check()
    follow(page.get_by_role("button", name="Create link"))
    look(page, "link-made")
    address = page.get_by_label("Private link").input_value()
    outside = profile(chromium, running.address, viewport=page.viewport_size)
    tab = outside.new_page()
    tab.goto(address)
    expect(tab.get_by_role("heading", level=1)).to_have_text("Your job 2026-0001")
    assert tab.locator("svg:visible").count() == 1
    look(tab, "customer")
    tab.goto(address[:-1] + ("A" if address[-1] != "A" else "B"))
    look(tab, "nothing")
    outside.close()
    page.goto("/jobs/2026-0001")
    follow(page.get_by_role("button", name="Revoke").first)
    expect(page.get_by_role("status")).to_contain_text("no longer works")
    look(page, "job-with-links")
