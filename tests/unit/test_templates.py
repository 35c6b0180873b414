"""Templates are laid out alike, and every text of theirs can be translated."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import shopflow
from shopflow.config import Settings
from shopflow.web.app import create

FOLDER = Path(shopflow.__file__).parent / "web" / "templates"
TEMPLATES = sorted(FOLDER.rglob("*.html"))

WIDEST = 120

CODE = r"\{#.*?#\}|\{%.*?%\}|\{\{.*?\}\}"
TAG = rf"</?[a-zA-Z](?:{CODE}|\"(?:{CODE}|[^\"])*\"|[^>\"])*>"
PIECE = re.compile(rf"{CODE}|{TAG}|<!.*?>", re.DOTALL)

VOID = {"br", "hr", "img", "input", "link", "meta"}
OPENS = {"if", "for", "block", "macro", "call", "trans"}
READ = ("title", "aria-label", "placeholder", "alt")
"""Attributes whose value is read."""

NOT_TRANSLATED = re.compile(r"L/D|kg/m³|\bk\b|k =|\bU\b")
"""Symbols and units, the same in every language."""


def names(path: Path) -> str:
    return str(path.relative_to(FOLDER))


def indents(source: str) -> Iterator[tuple[int, int]]:
    """Lines that do not begin amid a tag or expression, each with the spaces they want.

    What stands between two tags or statements that each begin a line is indented by two more.
    """
    pieces = list(PIECE.finditer(source))
    around: dict[int, int] = {}
    turns: set[int] = set()
    stack: list[tuple[re.Match[str], list[int]]] = []
    for piece in pieces:
        role = _role(piece[0])
        if role == "opens":
            stack.append((piece, []))
        elif role == "turns":
            stack[-1][1].append(_line(source, piece))
        elif role == "closes":
            opener, between = stack.pop()
            while "endmacro" in piece[0] and "macro" not in opener[0]:
                opener, between = stack.pop()  # a form that its page closes
            if _begins_line(source, opener) and _begins_line(source, piece):
                for line in range(_line(source, opener) + 1, _line(source, piece)):
                    around[line] = around.get(line, 0) + 1
                turns.update(between)
    amid = {
        line
        for piece in pieces
        for line in range(_line(source, piece) + 1, _line(source, piece) + 1 + piece[0].count("\n"))
    }
    for number in range(1, source.count("\n") + 1):
        if number not in amid:
            yield number, 2 * (around.get(number, 0) - (number in turns))


def _line(source: str, piece: re.Match[str]) -> int:
    return source.count("\n", 0, piece.start()) + 1


def _begins_line(source: str, piece: re.Match[str]) -> bool:
    return not source[: piece.start()].rpartition("\n")[2].strip()


def _role(piece: str) -> str:
    """Role of a tag or statement: it opens, closes, or divides branches."""
    if word := re.match(r"\{%[-+]?\s*(\w+)", piece):
        if word[1] in OPENS or (word[1] == "set" and "=" not in piece):
            return "opens"
        parts = word[1] in ("else", "elif", "pluralize")
        return "closes" if word[1].startswith("end") else "turns" if parts else ""
    if re.match(r"\{\{ forms\.start\(", piece):
        return "opens"
    tag = re.match(r"<(/?)([a-z][\w-]*)", piece)
    if tag is None or tag[2] in VOID:
        return ""
    return "closes" if tag[1] else "opens"


@pytest.mark.parametrize("path", TEMPLATES, ids=names)
def test_no_line_is_too_wide(path: Path) -> None:
    wide = [
        n
        for n, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1)
        if len(line) > WIDEST
    ]
    assert not wide, f"lines above {WIDEST}: {wide}"


@pytest.mark.parametrize("path", TEMPLATES, ids=names)
def test_numbers_of_a_card_say_what_they_are(path: Path) -> None:
    """On a phone the headings of a list are not seen: of several numbers each needs its own."""
    source = path.read_text(encoding="utf-8")
    for table in re.findall(r'class="table cards".*?</table>', source, re.DOTALL):
        for row in re.findall(r"<tr.*?</tr>", table, re.DOTALL):
            assert row.count('<td class="num">') < 2, row


@pytest.mark.parametrize("path", TEMPLATES, ids=names)
def test_lines_are_indented_by_what_is_open_around_them(path: Path) -> None:
    source = path.read_text(encoding="utf-8")
    lines = source.splitlines()
    slips = [
        f"{number}: {lines[number - 1]!r} wants {spaces} spaces"
        for number, spaces in indents(source)
        if lines[number - 1] and len(lines[number - 1]) - len(lines[number - 1].lstrip()) != spaces
    ]
    assert not slips, "\n".join(slips)


@pytest.mark.parametrize("path", TEMPLATES, ids=names)
def test_every_visible_text_is_marked_for_translation(path: Path) -> None:
    slips = [text for text in unmarked(path.read_text(encoding="utf-8")) if text]
    assert not slips, "write {{ _(…) }} or {% trans %}: " + "; ".join(slips)


def unmarked(source: str) -> Iterator[str]:
    """Texts between tags, in attributes that are read and in expressions, left unmarked."""
    apart = r"\{%-? trans\b.*?endtrans [-+]?%\}|\{% block wide %\}.*?endblock %\}|\{#.*?#\}|&\w+;"
    source = re.sub(apart, "…", source, flags=re.DOTALL)
    between = re.sub(PIECE, "\n", source)
    for line in between.splitlines():
        yield _words(line)
    for name in READ:
        for value in re.findall(rf'\s{name}="((?:{CODE}|[^"])*)"', source):
            yield _words(re.sub(CODE, "", value))
    for code in re.findall(r"\{\{.*?\}\}", source, re.DOTALL):
        yield from _unmarked_literals(code)


def _unmarked_literals(code: str) -> Iterator[str]:
    """String constants of an expression that read as texts: capitals and spaces, or a choice."""
    for match in re.finditer(r'"([^"]*)"|\'([^\']*)\'', code):
        text = match[1] if match[1] is not None else match[2]
        before, after = code[: match.start()], code[match.end() :]
        marked = re.search(r'(\b_|ngettext)\((\s*"[^"]*",?)*\s*$', before)
        if not marked and _reads_as_text(text, before, after):
            yield text


def _reads_as_text(text: str, before: str, after: str) -> bool:
    if re.match(r"\s*(\|unit|:)", after) or re.search(r"(==|!=)\s*$", before):
        return False
    if re.search(r"\b(number|figure|format|join|may|url_for|map)\((?:[^()]*, )?$", before):
        return False
    return bool(re.match(r"[A-Z][a-z]+( |$)|(?!button)[a-z]+ [a-z]+", text))


def _words(text: str) -> str:
    """A text without symbols that need no translation; empty where no word is left."""
    bare = NOT_TRANSLATED.sub("", text).strip()
    return bare if re.search(r"[A-Za-z]{2}", bare) else ""


@pytest.mark.parametrize("path", TEMPLATES, ids=names)
def test_no_sign_of_the_layout_itself_is_left(path: Path) -> None:
    assert not re.search("[⏎␤↵¶]", path.read_text())


def test_every_page_that_is_linked_to_and_every_template_that_is_drawn_is_there(tmp_path):
    app = create(Settings(tmp_path, f"sqlite:///{tmp_path}/shop.db", secret_key="x" * 32))
    sources = [*TEMPLATES, *Path(shopflow.__file__).parent.rglob("*.py")]
    texts = [path.read_text(encoding="utf-8") for path in sources]
    pages = {name for text in texts for name in re.findall(r"url_for\(\s*[\"']([\w.]+)[\"']", text)}
    drawn = {name for text in texts for name in re.findall(r"\"([a-z_/]+/\w+\.html)\"", text)}
    assert len(pages) > 80
    assert len(drawn) > 90
    assert pages <= app.view_functions.keys()
    assert drawn <= set(map(names, TEMPLATES))
