"""Identifiers in addresses: off by one, negative, huge, of no number at all, of no path at all.

Guards: `web.addresses` (keys that fit the database, words without a null) and each service's `get`,
which raises NotFoundError. With the converters taken out, PostgreSQL and the parser of numbers fail
on what is too large (`test_a_key_too_large_for_the_database`).
"""

from __future__ import annotations

import pytest
from flask import Flask
from werkzeug.routing import Rule

from shopflow.web.addresses import LARGEST_KEY
from shopflow.web.rights import BY_TOKEN, OPEN
from tests.optional import present
from tests.security.one_of_everything import OneOfEverything, parts, rules, takes
from tests.web.client import Client

pytestmark = pytest.mark.slow

KEYS = ("0", "-1", "00", "2147483647", "2147483648", "9223372036854775808", "9" * 400, "x", "1.5",
        "1e3", "0x1", "%00", "1%00", "٣", "%20", "1;2", "1,2", "..", "None", "+1")  # fmt: skip
WORDS = ("none", "0", "-1", "..", "...", "%2e%2e", "%2e%2e%2f%2e%2e%2fetc%2fpasswd", "%00", "x%00",
         "A" * 3000, "'%20OR%20'1'='1", "%27;DROP%20TABLE%20job;--", "%", "%25", "_", "*", "%0d%0a",
         "%ff%fe", "日本", "%F0%9F%99%82", "<script>", "{{7*7}}", "${7*7}", "\\")  # fmt: skip
PIECES = {"sessions.worked_out"}
"""Answers with a piece of a page, which the checking client cannot check."""


def spoilt(everything: OneOfEverything, rule: Rule) -> list[str]:
    """Addresses of a rule with one part spoilt at a time."""
    rows = []
    for part in parts(rule):
        name = part.split(":")[-1]
        right = everything.value_of(rule.endpoint, name)
        wrong = list(KEYS if part.startswith("int:") else WORDS)
        if right.isdecimal():
            wrong += [str(int(right) + 1), str(int(right) + 1000)]
        else:
            wrong += [right[:-1], right + "1", right.lower() + "x"]
        marked = everything.address(rule).replace(f"/{right}", "/\0", 1)
        rows += [marked.replace("\0", value) for value in wrong]
    return rows


@pytest.mark.parametrize("step", [6, pytest.param(1, marks=pytest.mark.long)])
def test_no_identifier_breaks_a_page_or_opens_what_it_should_not(
    web_app: Flask, client: Client, everything: OneOfEverything, step: int
):
    """With the suite one in six, begun at another for each rule, so that all are tried on some."""
    token = client.page("/me").tree.xpath("//input[@name='csrf_token']/@value")[0]
    sent = 0
    for index, rule in enumerate(rules(web_app)):
        if rule.endpoint in PIECES | {"static"}:
            continue
        for address in spoilt(everything, rule)[index % step :: step]:
            for method in present(rule.methods) - {"HEAD", "OPTIONS"}:
                answer = client.open(address, method=method, data={"csrf_token": token})
                # Without a token the programming interface says 401 to whatever is asked.
                shut = 401 if rule.endpoint in BY_TOKEN else 200
                assert answer.status_code in (shut, 200, 302, 303, 308, 404, 405, 409, 422), address
                sent += 1
    assert sent > 1500 // step


def test_a_stranger_is_sent_to_the_door_whatever_the_identifier(
    web_app: Flask, stranger: Client, everything: OneOfEverything
):
    for rule in rules(web_app):
        if rule.endpoint in OPEN | BY_TOKEN or not takes(rule, "GET"):
            continue
        for address in spoilt(everything, rule)[::5]:
            answer = stranger.get(address)
            assert answer.status_code in (302, 308, 404, 405), address
            if answer.status_code == 302:
                assert answer.headers["Location"].startswith("/sign-in"), address


def test_a_key_too_large_for_the_database(client: Client):
    assert client.get(f"/customers/{LARGEST_KEY}").status_code == 404
    assert client.get(f"/customers/{LARGEST_KEY + 1}").status_code == 404


@pytest.mark.parametrize(
    "path",
    [
        "../app.py", "%2e%2e/app.py", "..%2fapp.py", "css/../../app.py", "css/%2e%2e/%2e%2e/app.py",
        "..\\app.py", "/etc/passwd", "//etc/passwd", "css%00.css", "css/", "", ".",
        "css/base.css/../../../../config.py",
    ],
)  # fmt: skip
def test_static_files_come_from_their_folder_alone(stranger: Client, path: str):
    """Guard: werkzeug's `safe_join` behind Flask's static route and `send_from_directory`."""
    assert stranger.get(f"/static/{path}").status_code in (404, 308)
    assert stranger.get(f"/fonts/{path}.woff2").status_code in (404, 308)
