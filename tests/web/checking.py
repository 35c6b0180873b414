"""Rules for every page: well nested HTML, one h1, labelled fields, nothing inline."""

from __future__ import annotations

from html.parser import HTMLParser
from itertools import pairwise

VOID = {"area", "base", "br", "col", "embed", "hr", "img", "input", "link", "meta", "source", "wbr"}
NOT_IN_P = {
    *("address", "article", "aside", "blockquote", "details", "div", "dl", "fieldset", "figure"),
    *("footer", "form", "h1", "h2", "h3", "h4", "header", "hr", "main", "nav", "ol", "p", "pre"),
    *("section", "table", "ul"),
}
HEADINGS = ("h1", "h2", "h3", "h4", "h5", "h6")
REFERENCES = frozenset(
    {"for", "aria-describedby", "aria-labelledby", "aria-controls", "list", "form"}
)


def faults_of(html: str) -> list[str]:
    """Everything wrong with a page."""
    checker = _Checker()
    checker.feed(html)
    checker.close()
    return [*checker.faults, *checker.faults_at_end(html)]


class _Checker(HTMLParser):
    def __init__(self) -> None:
        super().__init__()
        self.faults: list[str] = []
        self.open: list[str] = []
        self.ids: set[str] = set()
        self.references: list[tuple[str, str]] = []
        self.labelled: set[str] = set()
        self.fields: list[tuple[str, str | None]] = []
        self.headings: list[str] = []
        self.title = ""
        self.tokens_wanted = 0
        self.tokens = 0

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        by_name = {name: value or "" for name, value in attrs}
        if len(by_name) < len(attrs):
            self._fault(f"<{tag}> has an attribute twice")
        self._check_nesting(tag)
        self._check_inline(tag, by_name)
        self._note(tag, by_name)
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.handle_starttag(tag, attrs)
        if tag not in VOID:
            self.handle_endtag(tag)

    def handle_endtag(self, tag: str) -> None:
        if tag in VOID:
            return
        if not self.open or self.open[-1] != tag:
            self._fault(f"</{tag}> closes {self.open[-1] if self.open else 'nothing'}")
        if tag in self.open:
            while self.open.pop() != tag:
                pass

    def handle_data(self, data: str) -> None:
        if self.open and self.open[-1] == "title" and "svg" not in self.open:
            self.title += data

    def faults_at_end(self, html: str) -> list[str]:
        """Faults that need the whole page."""
        faults = [f"<{tag}> is never closed" for tag in self.open]
        if not html.lower().startswith("<!doctype html>"):
            faults.append("no doctype")
        if not self.title.strip():
            faults.append("no title")
        if self.headings.count("h1") != 1:
            faults.append(f"{self.headings.count('h1')} h1")
        levels = [int(heading[1]) for heading in self.headings]
        for before, after in pairwise(levels):
            if after > before + 1:
                faults.append(f"h{after} follows h{before}")
        for name, target in self.references:
            if target not in self.ids:
                faults.append(f'{name}="{target}" points nowhere')
        for name, identity in self.fields:
            if identity not in self.labelled:
                faults.append(f"field {name} has no label")
        if self.tokens < self.tokens_wanted:
            faults.append("a form that posts has no CSRF token")
        return faults

    def _fault(self, words: str) -> None:
        self.faults.append(f"line {self.getpos()[0]}: {words}")

    def _check_nesting(self, tag: str) -> None:
        if self.open and self.open[-1] == "p" and tag in NOT_IN_P:
            self._fault(f"<{tag}> in <p>")
        if tag in ("form", "a", "button", "label") and tag in self.open:
            self._fault(f"<{tag}> in <{tag}>")
        if tag in ("button", "input", "select") and "a" in self.open:
            self._fault(f"<{tag}> in <a>")

    def _check_inline(self, tag: str, attributes: dict[str, str]) -> None:
        if "style" in attributes or tag == "style":
            self._fault(f"inline style at <{tag}>")
        if tag == "script" and "src" not in attributes:
            self._fault("inline script")
        for name in attributes:
            if name.startswith("on"):
                self._fault(f"{name} at <{tag}>")
        if attributes.get("href", "").lower().startswith("javascript:"):
            self._fault("a script as an address")

    def _note(self, tag: str, attributes: dict[str, str]) -> None:
        identity = attributes.get("id")
        if identity is not None:
            if identity in self.ids or not identity or " " in identity:
                self._fault(f"id '{identity}' is given twice, empty or has a space")
            self.ids.add(identity)
        for name in REFERENCES & attributes.keys():
            self.references += [(name, target) for target in attributes[name].split()]
        if tag in HEADINGS:
            self.headings.append(tag)
        if tag == "html" and "lang" not in attributes:
            self._fault("no language")
        if tag == "img" and "alt" not in attributes:
            self._fault("a picture without words")
        self._note_form(tag, attributes)

    def _note_form(self, tag: str, attributes: dict[str, str]) -> None:
        if tag == "form" and attributes.get("method", "").lower() == "post":
            self.tokens_wanted += 1
        if tag == "input" and attributes.get("name") == "csrf_token":
            self.tokens += 1
        if tag == "label":
            self.labelled.add(attributes.get("for", ""))
        silent = attributes.get("type") in ("hidden", "submit", "button")
        named = "aria-label" in attributes or "aria-labelledby" in attributes
        if tag in ("input", "select", "textarea") and not silent and not named:
            self.fields.append((attributes.get("name", "?"), attributes.get("id")))
