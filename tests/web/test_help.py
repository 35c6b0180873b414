"""The guide within the program."""

from __future__ import annotations

import re

import pytest
from PIL import Image

from shopflow.resources import GUIDE
from shopflow.web.help import guide
from tests.browser import pictures
from tests.catalogue import BRITISH


def test_every_page_of_the_guide_is_listed() -> None:
    assert sorted(guide.PAGES) == sorted(path.stem for path in GUIDE.glob("*.md"))
    how_tos = [f"{guide.HOW_TO}{path.stem}" for path in (GUIDE / "how-to").glob("*.md")]
    assert sorted(guide.HOW_TOS) == sorted(how_tos)


@pytest.mark.parametrize("name", [*guide.PAGES, *guide.HOW_TOS])
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


@pytest.mark.parametrize("name", guide.HOW_TOS)
def test_a_how_to_is_numbered_steps_and_a_note(name) -> None:
    (part,) = guide.sections(name)
    text = (GUIDE / f"{name}.md").read_text(encoding="utf-8")
    assert 3 <= len(re.findall(r"^\d\. ", text, re.MULTILINE)) <= 6
    assert part.title


WITHOUT_A_SCREEN = {"back-the-shop-up", "simulate-an-engine", "share-open-data"}
"""Tasks of commands and files."""


def test_every_how_to_of_a_screen_has_its_picture(client) -> None:
    """Made by `python -m tests.browser.pictures`; small, described, and readable in the tree."""
    folder = GUIDE / "how-to"
    shown = {path.stem: re.findall(r"!\[(.+)\]\((.+)\)", path.read_text())
             for path in folder.glob("*.md")}  # fmt: skip
    assert {name for name, pictures in shown.items() if not pictures} == WITHOUT_A_SCREEN
    for ((_, file),) in filter(None, shown.values()):
        answer = client.get(f"/help/how-to/{file}")
        assert (answer.status_code, answer.mimetype) == (200, "image/webp")
        assert answer.data == (folder / file).read_bytes()
        with Image.open(folder / file) as picture:
            assert picture.width == pictures.HOW_TO_WIDTH
        assert len(answer.data) < 30_000
    kept = {path.stem for path in (folder / "pictures").iterdir()}
    assert kept == set(pictures.PAGES) == shown.keys() - WITHOUT_A_SCREEN
    assert client.get("/help/how-to/pictures/none.webp").status_code == 404


def test_the_buttons_a_how_to_names_are_on_a_page() -> None:
    code = "".join(
        path.read_text(encoding="utf-8")
        for ending in ("*.html", "*.py")
        for path in (GUIDE.parent / "web").rglob(ending)
    )
    named = {
        " ".join(button.split())
        for name in guide.HOW_TOS
        for button in re.findall(
            r"\*\*(.+?)\*\*", (GUIDE / f"{name}.md").read_text("utf-8"), re.DOTALL
        )
    }
    missing = {words for words in named if f'"{words}"' not in code and f"%}}{words}<" not in code}
    assert missing == {"Save cash payment"}


def test_help_is_searched_by_every_word(client) -> None:
    page = client.page("/help/?q=coefficient+discharge")
    assert "/help/glossary#discharge-coefficient" in page.links.values()
    hits = guide.search("deposit quote")
    assert "how-to/write-a-quote" in {hit.section.name for hit in hits}
    assert "Nothing in the guide" in client.page("/help/?q=zzzz").text
    assert client.get("/help/?q=%00").status_code == 200


def test_terms_on_pages_are_terms_of_the_glossary() -> None:
    used = {
        key
        for path in (GUIDE.parent / "web" / "templates").rglob("*.html")
        for key in re.findall(r'terms\.(?:term|about)\("([^"]+)"', path.read_text("utf-8"))
    }
    assert len(used) > 8
    assert used <= guide.glossary().keys()


def test_a_number_says_on_its_page_what_it_is(client) -> None:
    assert guide.glossary()["capacity"].text in client.page("/floor/capacity").text
