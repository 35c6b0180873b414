"""The guide within the program."""

from __future__ import annotations

import re

import pytest

from shopflow.resources import GUIDE
from shopflow.web.help import guide


def test_every_page_of_the_guide_is_listed() -> None:
    assert sorted(guide.PAGES) == sorted(path.stem for path in GUIDE.glob("*.md"))


@pytest.mark.parametrize("name", guide.PAGES)
def test_a_page_opens_and_its_links_lead_somewhere(client, name) -> None:
    page = client.get(f"/help/{name}").text
    article = re.search(r'<article class="guide-text">(.*?)</article>', page, re.DOTALL)
    assert article
    for target in re.findall(r'href="([^"]+)"', article[1]):
        address = target if target.startswith("/") else f"/help/{target}"
        assert client.get(address).status_code == 200


def test_help_opens_on_the_first_day(client) -> None:
    assert "Your first day" in client.page("/help/").text


def test_a_page_that_does_not_exist_is_not_found(client) -> None:
    assert client.get("/help/missing").status_code == 404
