"""People's texts keep to plain English: one term for one thing, one verb for one act."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import shopflow
from tests.catalogue import forms, marked_in
from tests.sources import nodes

ROOT = Path(shopflow.__file__).parent

# An old term, and what to write for it.
OLD_TERMS = {
    r"bench sessions?|this session|a session|the session|sessions": "flow test",
    r"(a|the|saved|no) routings?": "steps, or work plan template",
    r"sums": "calculators",
    r"(a|the|its|print|with) tags?": "label",
    r"(an|the|no|open|of) operations?|kinds? of operation": "step",
    r"mend(ed|s)?": "fix",
    r"put right": "correct",
    r"come by|came by": "calculate, source",
    r"worked out|work (it|them) out|works out": "calculate",
    r"said of": "notes on",
    r"drawn over": "compare with",
    r"how it was made": "test conditions",
    r"not shown to differ": "no measurable difference",
    r"lifts in common": "lifts both tests cover",
    r"found something": "add extra work",
    r"take up again": "reopen step",
    r"(leave|left) (it|the step) out|left out": "skip",
    r"as it came in": "condition on arrival",
    r"(who )?bears( it)?": "who pays",
    r"look it over": "preview PDF",
    r"rests on": "based on",
    r"departures": "changes from the standard method",
    r"(is|who is) at it": "assigned to",
    r"br(ing|ought) (records )?in\b": "import",
    r"take records out": "export",
    r"tokens for programs": "API tokens",
    r"between columns": "column separator",
    r"parted by": "separated by",
    r"no such": "does not exist",
    r"fill this in": "enter a value",
    r"a day from today on": "a date from today",
    r"reckon(s|ed)?": "calculate, use",
    r"stands? in it": "contents",
    r"stands? still": "is on hold",
    r"as things stand": "now",
    r"goes with": "matches",
    r"call(ed)? (it )?off": "cancel",
    r"(kept|keep) as csv": "download CSV",
    r"write down|written down": "add, record, save",
    r"take(n)? (it )?back": "credit, withdraw",
    r"figures?": "result or measurement",
    r"on file": "on record",
    r"this paper|the papers?|papers": "document",
    r"do not go together": "wrong user name or password",
    r"opens nothing|open anything": "does not work",
    r"anew": "again",
    r"where (it is|there is) (none|one|empty)": "if",
}

# Words for one act: the second is the one to use on a button.
OLD_VERBS = {
    "keep": "save",
    "store": "save",
    "write": "save, or write for a text to a customer",
    "set": "save",
    "make": "create",
    "find": "search",
    "get": "download",
    "take": "remove, record, start",
    "leave": "skip, cancel",
    "edit": "change",
    "retire": "archive",
    "delete": "remove or discard",
    "bring": "import, restore",
    "put": "correct, save",
    "give": "create, send",
    "look": "search, preview",
    "go": "resume, continue",
}
BUTTONS_THAT_MAY = frozenset({"Write hand-off note", "Write quote", "Write to customer",
    "Put on hold", "Go to floor", "Go to job", "Go to tokens", "Set new password",
    "Set up shop"})  # fmt: skip


ROLES = ("Figure",)
"""Roles of a tagged PDF (ISO 32000-2, 14.8.4), which no one reads as words."""


def template_texts(path: Path) -> Iterator[tuple[int, str]]:
    """Texts of a template, with their line; tests/unit/test_templates.py has each marked."""
    for line, key in marked_in(path):
        for text in forms(key):
            yield line, re.sub(r"%\(\w+\)s|<[^>]*>", "…", text)


def python_texts(path: Path) -> Iterator[tuple[int, str]]:
    """String constants that read as texts: no docstrings, single words, or names of columns."""
    unread = {
        id(name)
        for node in nodes(path)
        if isinstance(node, ast.Assign) and ast.unparse(node.targets[0]) == "__all__"
        for name in ast.walk(node.value)
    } | {
        id(body.value)
        for node in nodes(path)
        if isinstance(statements := getattr(node, "body", None), list)
        for body in statements
        if isinstance(body, ast.Expr) and isinstance(body.value, ast.Constant)
    }
    for node in nodes(path):
        if (
            isinstance(node, ast.Constant)
            and isinstance(node.value, str)
            and id(node) not in unread
            and (" " in node.value.strip() or node.value[:1].isupper())
            and not (path.name == "columns.py" and node.value.startswith("id "))
            and node.value not in ROLES
        ):
            yield node.lineno, node.value


@cache
def texts() -> tuple[tuple[str, str], ...]:
    return tuple(_texts())


def _texts() -> Iterator[tuple[str, str]]:
    for path in sorted(ROOT.rglob("*.html")):
        for line, text in template_texts(path):
            yield f"{path.relative_to(ROOT)}:{line}", " ".join(text.split())
    for path in sorted(ROOT.rglob("*.py")):
        for line, text in python_texts(path):
            yield f"{path.relative_to(ROOT)}:{line}", " ".join(text.split())


def buttons() -> Iterator[tuple[str, str]]:
    """Labels of buttons, and of links drawn as buttons, as far as they are fixed."""
    begins = (
        r"<(?:button|a\s+class=\"button)[^>]*>\s*\{\{-? _\(",
        r"(?:buttons|post_button)\(\s*(?:url_for\([^)]*\),\s*)?_\(",
    )
    for path in sorted(ROOT.rglob("*.html")):
        for pattern in begins:
            for match in re.finditer(pattern + r'"([^"]+)"', path.read_text("utf-8")):
                yield str(path.relative_to(ROOT)), match[1]
    for path in sorted(ROOT.rglob("*.py")):
        for match in re.finditer(r'SubmitField\(\s*lazy\(\s*"([^"]+)"', path.read_text("utf-8")):
            yield str(path.relative_to(ROOT)), match[1]


@pytest.mark.parametrize("term", OLD_TERMS)
def test_no_text_has_an_old_term(term: str) -> None:
    old = re.compile(rf"\b(?:{term})\b", re.IGNORECASE)
    slips = [f"{place}: {text}" for place, text in texts() if old.search(text)]
    assert not slips, f"write {OLD_TERMS[term]}:\n" + "\n".join(slips)


def test_buttons_are_a_verb_and_its_object_in_at_most_three_words() -> None:
    slips = [
        f"{place}: {label}"
        for place, label in buttons()
        if len(re.sub(r" \((PDF|CSV|JSON)\)", "", label).split()) > 3
        or not label[:1].isupper()
        or {"it", "a", "an", "the"} & set(label.lower().split())
    ]
    assert not slips, "\n".join(slips)


def test_buttons_have_one_verb_for_one_act() -> None:
    slips = [
        f"{place}: {label}; {OLD_VERBS[label.split()[0].lower()]}"
        for place, label in buttons()
        if label.split()[0].lower() in OLD_VERBS and label not in BUTTONS_THAT_MAY
    ]
    assert not slips, "\n".join(slips)


def test_examples_in_hints_begin_with_for_example() -> None:
    slips = [f"{place}: {text}" for place, text in texts() if re.match(r"As ['‘#\d]", text)]
    assert not slips, "\n".join(slips)
