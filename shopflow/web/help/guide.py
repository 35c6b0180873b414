"""The pages of the guide as HTML."""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from markdown_it import MarkdownIt
from markupsafe import Markup

from shopflow.resources import GUIDE

PAGES = (
    "first-day",
    "measuring",
    "flow-tests",
    "documents-and-money",
    "running-the-server",
    "commands",
)
"""The pages in reading order, by the names of their files."""


@dataclass(frozen=True, slots=True)
class Page:
    """One page of the guide."""

    title: str
    body: Markup


@cache
def read(name: str) -> Page:
    """The page whose file is `name`.md. Raises FileNotFoundError if there is none.

    Links between pages name files, so that they work in the tree too; here they lose their ending.
    """
    markdown = MarkdownIt("commonmark", {"html": False}).enable("table")
    tokens = markdown.parse((GUIDE / f"{name}.md").read_text(encoding="utf-8"))
    for inline in (child for token in tokens for child in token.children or ()):
        target = inline.attrGet("href")
        if isinstance(target, str) and target.endswith(".md"):
            inline.attrSet("href", target.removesuffix(".md"))
    title = tokens[1].content
    return Page(title, Markup(markdown.renderer.render(tokens, markdown.options, {})))


@cache
def titles() -> dict[str, str]:
    """The title of every page by its name, in reading order."""
    return {name: read(name).title for name in PAGES}
