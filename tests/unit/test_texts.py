"""Every text goes through the catalogues, and British shops read British English."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from datetime import date
from pathlib import Path
from string import Formatter

import pytest

from shopflow import texts
from shopflow.web.language import script_messages
from tests.catalogue import BRITISH, ROOT, british, forms, marked, marked_in, messages, read
from tests.sources import tree

LANGUAGES = [language for language in texts.LANGUAGES if language != texts.SOURCE]

NOT_YET: tuple[str, ...] = ()
"""Files whose texts that are no errors are not marked yet; each that is done leaves this list."""

SHOWN = {"RuleError", "FieldError", "NotFoundError", "ConflictError", "ValidationError", "flash",
         "ValueError", "UnitError", "RefusedError", "UnfitFileError", "SignInError"}  # fmt: skip
"""Calls whose text people read."""

SILENT = {
    "demo": "an invented shop's own records are data, as a real shop's are",
    "web/api": "programs read it, and its description is one document in one language",
}
"""Files whose texts stay in the source's language, each with the reason."""

MARKS = {"gettext", "lazy", "gettext_noop", "ngettext"}


def python_files() -> Iterator[Path]:
    return (path for path in sorted(ROOT.rglob("*.py")) if path.name != "texts.py")


def within(path: Path, names: tuple[str, ...]) -> bool:
    return any(path.is_relative_to(ROOT / name) for name in names)


def unmarked(path: Path) -> Iterator[tuple[int, str, list[str]]]:
    """Texts of a file that stand in no mark: line, text, and the calls around it."""
    yield from _unmarked(tree(path), [])


def _unmarked(node: ast.AST, calls: list[str]) -> Iterator[tuple[int, str, list[str]]]:
    if isinstance(node, ast.Call):
        calls = [*calls, ast.unparse(node.func).rpartition(".")[2]]
        if calls[-1] in MARKS:
            return
    if isinstance(node, ast.Expr) and isinstance(node.value, ast.Constant):
        return
    if isinstance(node, ast.JoinedStr):
        text = "".join(str(part.value) for part in node.values if isinstance(part, ast.Constant))
        yield node.lineno, text, calls
        return
    if isinstance(node, ast.Constant) and isinstance(node.value, str):
        yield node.lineno, node.value, calls
    for child in ast.iter_child_nodes(node):
        yield from _unmarked(child, calls)


def test_errors_and_notices_are_marked_for_translation() -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for path in python_files()
        if not within(path, tuple(SILENT))
        for line, text, calls in unmarked(path)
        if calls and calls[-1] in SHOWN and re.search(r"[A-Za-z]{2,} [A-Za-z]", text)
    ]
    assert not slips, "\n".join(slips)


def test_every_text_is_in_each_catalogue_and_no_other() -> None:
    wanted = {text for key, _ in marked() for text in forms(key)}
    for language in LANGUAGES:
        has = {source for source, _ in messages(read(language))}
        assert not wanted ^ has, f"run python -m tests.catalogue: {sorted(wanted ^ has)[:20]}"


def placeholders(text: str) -> set[str]:
    named = set(re.findall(r"%\((\w+)\)s", text))
    braces = set() if named or "%(" in text else {n for _, n, _, _ in Formatter().parse(text) if n}
    return named | braces


@pytest.mark.parametrize("language", LANGUAGES)
def test_translations_keep_their_placeholders(language: str) -> None:
    for source, translation in messages(read(language)):
        if translation:
            assert placeholders(source) == placeholders(translation), source


def test_placeholders_are_well_formed() -> None:
    for key, place in marked():
        for text in forms(key):
            if place.endswith((".py", ".js")):
                assert all(name != "" for _, name, _, _ in Formatter().parse(text)), text
            else:
                text % dict.fromkeys(placeholders(text), "")


def test_the_texts_of_scripts_are_found_as_the_catalogue_finds_them() -> None:
    extracted = {key for path in ROOT.rglob("*.js") for _, key in marked_in(path)}
    assert len(extracted) > 30
    assert extracted == set(script_messages())


def test_scripts_say_nothing_that_is_not_marked() -> None:
    slips = [
        f"{path.name}: {text}"
        for path in sorted(ROOT.rglob("*.js"))
        for text in re.findall(
            r"""(?<!gettext\()["`]([A-Z][a-z]+ [a-z][^"`]*)["`]""", code_of(path)
        )
    ]
    assert not slips, "\n".join(slips)


def code_of(path: Path) -> str:
    """A script without its comments."""
    return re.sub(r"(?m)^\s*//.*$|\s// .*$", "", path.read_text(encoding="utf-8"))


def test_the_source_has_american_spelling() -> None:
    words = re.compile(rf"\b({'|'.join(BRITISH.values())})\b", re.IGNORECASE)
    slips = [key for key, _ in marked() if words.search(str(key))]
    assert not slips, slips


def test_british_texts_have_british_spelling() -> None:
    for source, translation in messages(read("en_GB")):
        assert british(translation or source) == (translation or source), source


def test_a_text_is_in_the_language_spoken_and_back_in_the_source_after() -> None:
    with texts.spoken("en_GB"):
        assert texts.gettext("Bar color") == "Bar colour"
        assert str(texts.lazy("Bar color")) == "Bar colour"
    assert texts.gettext("Bar color") == "Bar color"


@pytest.mark.parametrize(
    ("language", "full", "short"),
    [("en_US", "Mar 5, 2026", "Mar 5"), ("en_GB", "5 Mar 2026", "5 Mar")],
)
@pytest.mark.source("Unicode CLDR: order of a date in American and British English")
def test_dates_are_in_the_order_of_the_language(language: str, full: str, short: str) -> None:
    with texts.spoken(language):
        assert texts.day(date(2026, 3, 5)) == full
        assert texts.day(date(2026, 3, 5), year=False) == short


def test_what_is_not_yet_marked_is_still_there() -> None:
    gone = [name for name in NOT_YET if not (ROOT / name).exists()]
    assert not gone, f"take these off the list: {gone}"
