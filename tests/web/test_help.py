"""The guide within the program."""

from __future__ import annotations

import re

import pytest

from shopflow.resources import GUIDE
from shopflow.web.help import guide
from tests.catalogue import BRITISH


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


@pytest.mark.parametrize("name", guide.PAGES)
def test_the_guide_has_no_word_that_is_spelled_otherwise_in_britain(name) -> None:
    """The guide is one text for every shop, so its spelling must be right in each."""
    text = (GUIDE / f"{name}.md").read_text(encoding="utf-8")
    words = "|".join({*BRITISH, *BRITISH.values()} - {"cancelled"})
    assert not re.findall(rf"\b({words})\b", text, re.IGNORECASE)


def test_help_opens_on_the_first_day(client) -> None:
    assert "Your first day" in client.page("/help/").text


def test_a_page_that_does_not_exist_is_not_found(client) -> None:
    assert client.get("/help/missing").status_code == 404
