"""The guide as HTML: its pages, the how-tos, the glossary, and a search over all of them."""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache
from itertools import pairwise

from markdown_it import MarkdownIt
from markdown_it.token import Token
from markupsafe import Markup

from shopflow.resources import GUIDE

GLOSSARY = "glossary"
PAGES = (
    "first-day",
    "measuring",
    "flow-tests",
    "documents-and-money",
    "parts",
    "instruments",
    "running-the-server",
    "programs",
    "commands",
    GLOSSARY,
)
"""The pages of the guide in reading order, by the names of their files."""

HOW_TO = "how-to/"
HOW_TOS = tuple(
    f"{HOW_TO}{name}"
    for name in (
        "book-a-head-in",
        "plan-the-work",
        "write-a-quote",
        "record-an-approval",
        "start-and-sign-off-a-step",
        "put-a-head-on-hold",
        "take-a-flow-test",
        "cut-a-scan-into-sections",
        "compare-two-tests",
        "find-what-limits-a-port",
        "forecast-air-and-power",
        "simulate-an-engine",
        "issue-a-certificate",
        "take-a-payment",
        "hand-a-job-over",
        "see-what-worked",
        "calibrate-a-bench",
        "back-the-shop-up",
        "practise",
        "share-open-data",
    )
)
"""One page a task, in the order of a job's life."""

SHORTEST = 2
"""Letters that a search needs."""

AROUND = 90
"""Letters shown on each side of what was found."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the guide."""

    title: str
    body: Markup


@dataclass(frozen=True, slots=True)
class Section:
    """A piece of a page under its own heading, as plain text."""

    name: str
    """Page that it is on."""

    title: str
    heading: str
    """Its heading; the page's title for what stands before the first one."""

    anchor: str
    text: str


@dataclass(frozen=True, slots=True)
class Hit:
    """A section that a search found."""

    section: Section
    excerpt: str


@cache
def read(name: str) -> Page:
    """The page whose file is `name`.md. Raises FileNotFoundError if there is none.

    Links between pages name files, so that they work in the tree too; here they lose their ending.
    """
    markdown, tokens = _parsed(name)
    for inline in (child for token in tokens for child in token.children or ()):
        target = inline.attrGet("href")
        if isinstance(target, str) and target.endswith(".md"):
            inline.attrSet("href", target.removesuffix(".md"))
    title = tokens[1].content
    return Page(title, Markup(markdown.renderer.render(tokens, markdown.options, {})))


@cache
def titles(names: tuple[str, ...] = PAGES) -> dict[str, str]:
    """The title of every page by its name, in reading order."""
    return {name: read(name).title for name in names}


@cache
def sections(name: str) -> tuple[Section, ...]:
    """The sections of a page, the part before its first heading first."""
    _, tokens = _parsed(name)
    title = tokens[1].content
    pieces: list[tuple[str, list[str]]] = [(title, [])]
    after_heading = False
    for token in tokens[3:]:
        if token.type == "inline" and after_heading:
            pieces.append((_plain(token), []))
        elif token.type in ("inline", "fence", "code_block"):
            pieces[-1][1].append(_plain(token))
        after_heading = token.type == "heading_open"
    return tuple(
        Section(name, title, heading, slug(heading) if heading != title else "", " ".join(texts))
        for heading, texts in pieces
    )


@cache
def glossary() -> dict[str, Section]:
    """The terms of the glossary with their meanings, by their anchors."""
    return {part.anchor: part for part in sections(GLOSSARY) if part.anchor}


def search(text: str) -> list[Hit]:
    """Sections that hold every word typed; those with a word in their heading first."""
    words = [word.casefold() for word in text.split() if len(word) >= SHORTEST]
    if not words:
        return []
    hits = [
        Hit(part, _excerpt(part.text, words))
        for name in (*HOW_TOS, *PAGES)
        for part in sections(name)
        if all(word in f"{part.title} {part.heading} {part.text}".casefold() for word in words)
    ]
    return sorted(hits, key=lambda hit: not any(w in hit.section.heading.casefold() for w in words))


def slug(heading: str) -> str:
    """The anchor of a heading: "L/D" as "l-d"."""
    return re.sub(r"[^a-z0-9]+", "-", heading.casefold()).strip("-")


def _parsed(name: str) -> tuple[MarkdownIt, list[Token]]:
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse((GUIDE / f"{name}.md").read_text(encoding="utf-8"))
    for opening, inline in pairwise(tokens):
        if opening.type == "heading_open" and opening.tag != "h1":
            opening.attrSet("id", slug(inline.content))
    return markdown, tokens


def _plain(token: Token) -> str:
    if not token.children:
        return token.content
    return "".join(" " if child.type == "softbreak" else child.content for child in token.children)


def _excerpt(text: str, words: list[str]) -> str:
    """The text around the first word found, cut between words."""
    places = [place for word in words if (place := text.casefold().find(word)) >= 0]
    start = max(0, min(places, default=0) - AROUND)
    end = start + 2 * AROUND
    piece = text[start:end]
    if start:
        piece = f"… {piece.partition(' ')[2]}"
    return f"{piece.rpartition(' ')[0]} …" if end < len(text) else piece
