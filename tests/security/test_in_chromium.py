"""In a real browser: script in a page does not run, no frame holds one, no Referer tells.

Guard: the content security policy and referrer policy of `web.headers` and `customer_view`. Each
test serves the same page without the header as well, and sees it run there: without that, a test
that sees nothing run would prove nothing.
"""

from __future__ import annotations

import http.server
import threading
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from flask import Flask, Response
from playwright.sync_api import BrowserContext

from shopflow.database import open_engine, session_factory
from shopflow.services.actor import Actor
from shopflow.services.registry import customer_links
from shopflow.services.shop import settings
from tests import factories
from tests.browser import conftest as browsing
from tests.browser.conftest import Served, serving

browser, served = browsing.browser, browsing.served

HURT = "<script>document.title='hurt'</script><img src=x onerror=\"document.title='hurt'\">"


@contextmanager
def without(app: Flask, header: str) -> Iterator[None]:
    """The same server, with one header taken out of its answers."""

    def take_out(response: Response) -> Response:
        response.headers.pop(header, None)
        return response

    # Functions after a request run from the last registered to the first.
    app.after_request_funcs.setdefault(None, []).insert(0, take_out)
    try:
        yield
    finally:
        app.after_request_funcs[None].remove(take_out)


@pytest.fixture
def holed(tmp_path: Path, migrated_file: Path) -> Iterator[Served]:
    """A server one of whose pages lets markup through, as a slip in a template would."""
    with serving(tmp_path / "shop", migrated_file) as running:
        view = running.app.view_functions["set_up.set_up"]

        def slipped() -> str:
            page = view()
            text = page[0] if isinstance(page, tuple) else page
            assert isinstance(text, str)
            return text.replace("</main>", f"{HURT}</main>")

        running.app.view_functions["set_up.set_up"] = slipped
        yield running


def title_at(browser: BrowserContext, address: str) -> str:
    """A page's title once everything on it is done."""
    page = browser.new_page()
    page.goto(address, wait_until="networkidle")
    return page.title()


def test_script_that_got_into_a_page_does_not_run(browser: BrowserContext, holed: Served):
    address = f"{holed.address}/set-up"
    assert title_at(browser, address) != "hurt"
    with without(holed.app, "Content-Security-Policy"):
        assert title_at(browser, address) == "hurt"


@contextmanager
def elsewhere(page: str) -> Iterator[tuple[str, list[str]]]:
    """Another site that serves one page; its address, and each Referer it was told."""
    rows: list[str] = []

    class Handler(http.server.BaseHTTPRequestHandler):
        def do_GET(self) -> None:
            if self.path != "/favicon.ico":
                rows.append(self.headers.get("Referer", ""))
            self.send_response(200)
            self.send_header("Content-Type", "text/html")
            self.end_headers()
            self.wfile.write(page.encode())

        def log_message(self, *_: object) -> None:
            """Say nothing."""

    server = http.server.ThreadingHTTPServer(("127.0.0.1", 0), Handler)
    threading.Thread(target=server.serve_forever, daemon=True).start()
    try:
        yield f"http://localhost:{server.server_port}/", rows
    finally:
        server.shutdown()
        server.server_close()


def framed(browser: BrowserContext, address: str) -> bool:
    """True where a page of another site can hold this one in a frame."""
    with elsewhere(f'<iframe src="{address}"></iframe>') as (site, _):
        page = browser.new_page()
        page.goto(site, wait_until="networkidle")
        inner = page.frames[1]
        return inner.locator("main").count() == 1


def test_no_other_site_holds_a_page_in_a_frame(browser: BrowserContext, served: Served):
    address = f"{served.address}/set-up"
    assert not framed(browser, address)
    with (
        without(served.app, "Content-Security-Policy"),
        without(served.app, "X-Frame-Options"),
    ):
        assert framed(browser, address)


@pytest.fixture
def private_page(served: Served) -> str:
    """Address of a customer's private page."""
    engine = open_engine(served.app.config["SHOPFLOW"].database_url)
    with session_factory(engine).begin() as db:
        factories.create_shop(db)
        settings.change(db, factories.BY, settings.get_shop(db), {"web_address": served.address})
        _, address = customer_links.make(db, Actor.now(None), factories.create_job(db))
    engine.dispose()
    return address


def test_a_private_pages_secret_is_told_to_no_other_site(
    browser: BrowserContext, served: Served, private_page: str
):
    with elsewhere("<title>elsewhere</title>") as (site, answer):

        def follow(policy: str) -> None:
            page = browser.new_page()
            page.goto(private_page)
            page.evaluate(
                "([site, policy]) => { const a = document.createElement('a'); a.href = site;"
                " a.referrerPolicy = policy; document.body.append(a); a.click() }",
                [site, policy],
            )
            page.wait_for_url(site)

        follow("")
        # A link that asks for it by itself tells all: so the measure sees what there is to see.
        follow("unsafe-url")
        assert answer == ["", private_page]
