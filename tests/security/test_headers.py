"""Headers of every answer, and input that must not reach a header or an address.

Guards: `web.headers`, `web.auth` (cookies), `customer_links.make` (the shop's own address).
"""

from __future__ import annotations

from collections.abc import Iterator
from email.message import Message
from pathlib import Path

import pytest
from flask import Flask
from sqlalchemy.orm import Session
from werkzeug.test import TestResponse

from shopflow import create_app
from shopflow.config import Settings
from shopflow.files import FileStore
from shopflow.models import JobFile
from shopflow.services.actor import Actor
from shopflow.services.registry import attachments, customer_links
from shopflow.services.registry.attachments import Upload
from tests.factories import BY
from tests.optional import present
from tests.security.one_of_everything import WEB, OneOfEverything, rules, takes
from tests.security.test_search import later_long
from tests.web.client import Client, client_of

pytestmark = pytest.mark.slow


def every_answer(
    app: Flask, client: Client, everything: OneOfEverything
) -> Iterator[tuple[str, TestResponse]]:
    """The answer of every address that can be got, and of some that cannot."""
    for rule in rules(app):
        if takes(rule, "GET"):
            yield rule.endpoint, client.get(everything.address(rule))
    yield "missing", client.get("/nothing/here")
    yield "forged", client.post("/customers/new")
    yield "method", client.put("/customers")


def directives(policy: str) -> dict[str, str]:
    """A content security policy taken apart (W3C CSP Level 3, 2.2)."""
    pairs = (part.strip().partition(" ") for part in policy.split(";"))
    return {name: sources for name, _, sources in pairs}


def test_every_answer_is_guarded(web_app: Flask, client: Client, everything: OneOfEverything):
    for name, answer in every_answer(web_app, client, everything):
        headers = answer.headers
        policy = directives(headers["Content-Security-Policy"])
        # Clickjacking: a sandboxed file has default-src 'none' and cannot run anything in a frame.
        assert policy.get("frame-ancestors") == "'none'", name
        assert policy["default-src"] in ("'self'", "'none'"), name
        assert "unsafe" not in headers["Content-Security-Policy"], name
        assert set(policy) & {"script-src", "style-src"} == set(), name
        assert headers["X-Frame-Options"] == "DENY", name
        assert headers["X-Content-Type-Options"] == "nosniff", name
        assert headers["Referrer-Policy"] in ("same-origin", "no-referrer"), name
        assert headers["Cross-Origin-Resource-Policy"] == "same-origin", name
        assert headers["Cross-Origin-Opener-Policy"] == "same-origin", name
        assert "Access-Control-Allow-Origin" not in headers, name
        assert not {"Server", "X-Powered-By"} & set(headers.keys()), name
        if answer.status_code not in range(300, 400):
            assert headers["Content-Type"], name
        if present(answer.mimetype).startswith("text/"):
            assert "charset=utf-8" in headers["Content-Type"].lower(), name
        assert_private_pages_are_kept_by_no_cache(name, headers["Cache-Control"])


def assert_private_pages_are_kept_by_no_cache(name: str, kept: str) -> None:
    if name in ("static", "assets.font"):
        return
    assert "no-cache" in kept or "no-store" in kept, name
    assert "public" not in kept, name
    if name.startswith("customer_view"):
        assert kept == "no-store", name


def test_signing_out_clears_what_the_browser_kept(client: Client):
    token = client.page("/").tree.xpath("//input[@name='csrf_token']/@value")[0]
    answer = client.post("/sign-out", data={"csrf_token": token})
    assert answer.headers["Clear-Site-Data"] == '"cache"'


def test_over_https_cookie_and_address_are_kept_to_it(tmp_path: Path):
    """ASVS 3.3.1, 3.3.3 (RFC 6265bis, 4.1.3.2: __Host- wants Secure, Path=/ and no Domain)."""
    settings = Settings(tmp_path, f"sqlite:///{tmp_path / 'shop.db'}", "a key", https=True)
    app = create_app(settings)
    answer = app.test_client().get("/set-up", base_url="https://localhost")
    cookie = answer.headers["Set-Cookie"]
    assert cookie.startswith("__Host-shopflow=")
    parts = {part.strip() for part in cookie.split(";")[1:]}
    assert {"Secure", "HttpOnly", "SameSite=Lax", "Path=/"} <= parts
    assert not any(part.startswith("Domain") for part in parts)
    only = answer.headers["Strict-Transport-Security"]
    assert only == "max-age=31536000; includeSubDomains"
    app.extensions["shopflow.engine"].dispose()


@pytest.mark.parametrize(
    "sent",
    [
        {"Host": "elsewhere.test"},
        {
            "X-Forwarded-Host": "elsewhere.test",
            "Forwarded": "host=elsewhere.test",
            "X-Original-URL": "//elsewhere.test/",
        },
        pytest.param({"Host": "heads.example@elsewhere.test"}, marks=pytest.mark.long),
    ],
    ids=str,
)
def test_no_host_header_gets_into_a_page_a_redirect_or_a_link(
    web_app: Flask,
    client: Client,
    stranger: Client,
    db: Session,
    everything: OneOfEverything,
    sent: dict[str, str],
):
    """Guard: addresses are made relative, and links from the shop's own setting. With
    `_external=True` anywhere in a page, this fails."""
    token = client.page("/me").tree.xpath("//input[@name='csrf_token']/@value")[0]
    # A browser keeps a cookie to its host; whoever sends such headers sends the cookie too.
    cookie = present(client.get_cookie("shopflow"))
    sent = {**sent, "Cookie": f"shopflow={cookie.value}"}
    bare = client_of(web_app, use_cookies=False)
    bare.release_writes = client.release_writes
    for rule in rules(web_app):
        if takes(rule, "GET") and rule.endpoint not in ("static", "assets.font"):
            answer = bare.get(everything.address(rule), headers=sent)
            assert not answer.headers.get("Location", "").startswith("/sign-in?")
            assert b"elsewhere.test" not in answer.data, rule.endpoint
            assert "elsewhere.test" not in str(answer.headers), rule.endpoint
    nameless = {name: value for name, value in sent.items() if name != "Cookie"}
    assert stranger.get("/jobs", headers=nameless).headers["Location"] == "/sign-in?next=/jobs"
    number = everything.job.number
    page = bare.post(f"/jobs/{number}/link", data={"csrf_token": token, "days": "7"}, headers=sent)
    assert f'value="{WEB}/c/' in page.text
    _, address = customer_links.make(db, Actor.now(None), everything.job)
    assert address.startswith(f"{WEB}/c/")


@pytest.mark.parametrize("header", ["X-Forwarded-For", "Forwarded", "X-Real-IP", "Client-IP"])
def test_no_header_changes_where_a_request_is_taken_to_come_from(
    stranger: Client, everything: OneOfEverything, header: str
):
    """Guard: `request.remote_addr` is the connection's; the server clears the rest. Otherwise one
    could try codes without end."""
    from shopflow.services.accounts.verification_throttle import MOST_WRONG

    number = everything.places["verification number"]
    for turn in range(MOST_WRONG):
        stranger.get(f"/verify/{number}?code=0000", headers={header: f"for=10.0.0.{turn}"})
    answer = stranger.get(f"/verify/{number}?code=0000", headers={header: "10.9.9.9"})
    assert answer.status_code == 429


def test_all_addresses_of_one_ipv6_network_count_as_one(
    stranger: Client, everything: OneOfEverything
):
    """Guard: `network.network_of`. One customer has 2^64 of them (RFC 4291, 2.5.4)."""
    from shopflow.services.accounts.verification_throttle import MOST_WRONG

    path = f"/verify/{everything.places['verification number']}?code=0000"
    for turn in range(MOST_WRONG):
        stranger.get(path, environ_overrides={"REMOTE_ADDR": f"2001:db8:1:2::{turn:x}"})
    for address, status in (("2001:db8:1:2:9::9", 429), ("2001:db8:1:3::9", 200)):
        answer = stranger.get(path, environ_overrides={"REMOTE_ADDR": address})
        assert answer.status_code == status


@pytest.mark.parametrize(
    "name",
    [
        "a\r\nSet-Cookie: x=1.txt", 'a"; filename="b.html', "a\nb.txt", "..\\..\\a.txt",
        "../../etc/passwd", "a\x00.txt", "x" * 500 + ".txt", "日本\u202egpj.txt", "a;b=c.txt",
    ],
)  # fmt: skip
def test_a_files_name_cannot_begin_a_header_or_leave_its_folder(
    client: Client, db: Session, store: FileStore, everything: OneOfEverything, name: str
):
    """Guards: `attachments._plain_name`, and werkzeug's encoding of file names (RFC 6266)."""
    visit = everything.job.heads[0]
    upload = Upload(name, f"44 mm {name!r}".encode())
    (row,) = attachments.add(db, BY, store, visit.job, visit, [upload], {}).stored
    answer = client.get(f"/files/{row.id}")
    assert answer.status_code == 200
    disposition = answer.headers["Content-Disposition"]
    assert disposition.startswith("attachment;")
    assert "x=1" not in answer.headers.get("Set-Cookie", "")
    assert not set("\r\n\x00/\\") & set(row.name)
    # As Python's own reader of such headers (RFC 2231, RFC 6266) understands it.
    read = Message()
    read["Content-Disposition"] = disposition
    params = present(read.get_params(header="Content-Disposition"))
    assert [name for name, _ in params][1:] in (
        ["filename"],
        ["filename", "filename"],
    )
    # A name follows the contents, which are text.
    names = {row.name, f"{row.name}.txt"}
    assert row.name.isascii() == (read.get_filename() in names)
    job_file = db.get(JobFile, row.id)
    assert job_file is not None
    assert len(job_file.sha256) == 64
    assert (store.folder / job_file.sha256[:2] / job_file.sha256[2:4] / job_file.sha256).is_file()


@pytest.mark.parametrize(
    "words", later_long("x\r\nSet-Cookie: y=1", "x%0d%0aSet-Cookie:y=1", "x\nz: 1")
)
def test_no_query_begins_a_header(
    web_app: Flask, client: Client, everything: OneOfEverything, words: str
):
    """Guard: werkzeug refuses a line break in a header's value, and addresses are quoted."""
    for rule in rules(web_app):
        if takes(rule, "GET"):
            query = {"q": words, "next": words, "head": words, "code": words}
            answer = client.get(everything.address(rule), query_string=query)
            assert answer.status_code < 500, rule.endpoint
            assert "y=1" not in answer.headers.get("Set-Cookie", ""), rule.endpoint
