"""The list of what the physics is held against, made from the `source` marks of the tests.

`python -m tests.published.index` writes it anew into README.md beside this file.
"""

from __future__ import annotations

import ast
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

TESTS = Path(__file__).parents[1]
README = Path(__file__).with_name("README.md")
PLACES = ("unit/calc", "published")
HEADING = """# What the physics is held against

Each row is a check marked `@pytest.mark.source(...)`, and what outside this program it compares
with. "By hand" is arithmetic from the source's formula, worked out apart from the program; "from
memory" says that nobody has yet looked the figure up on the page; "common practice, no source" is
what the trade says and no more. `tests/properties` holds, beside these, what must be true of any
session. Made by `python -m tests.published.index`; a test holds it to the marks.

| what | source | where |
| --- | --- | --- |
"""


@dataclass(frozen=True, slots=True)
class Check:
    """One marked test."""

    name: str
    source: str
    place: str
    asserts: bool

    @property
    def row(self) -> str:
        """Its row of the table."""
        what = self.name.removeprefix("test_").replace("_", " ")
        return f"| {what} | {self.source} | `{self.place}` |"

    @property
    def has_source(self) -> bool:
        """True where a source beyond common practice supports it."""
        return not self.source.startswith("common practice")


def checks() -> list[Check]:
    """Every marked test of the physics, in the order of the files."""
    files = [path for place in PLACES for path in sorted((TESTS / place).glob("test_*.py"))]
    return [check for path in files for check in _checks_of(path)]


def table() -> str:
    """The whole text of README.md."""
    return HEADING + "".join(f"{check.row}\n" for check in checks())


def _checks_of(path: Path) -> Iterator[Check]:
    place = path.relative_to(TESTS.parent).as_posix()
    for node in ast.parse(path.read_text()).body:
        if isinstance(node, ast.FunctionDef):
            for source in filter(None, map(_source, node.decorator_list)):
                yield Check(node.name, source, place, _asserts(node))


def _source(decorator: ast.expr) -> str | None:
    """The text of a `source` mark; None where it is another decorator."""
    if isinstance(decorator, ast.Call) and ast.unparse(decorator.func) == "pytest.mark.source":
        return str(ast.literal_eval(decorator.args[0]))
    return None


def _asserts(function: ast.FunctionDef) -> bool:
    return any(isinstance(node, ast.Assert) for node in ast.walk(function))


if __name__ == "__main__":
    README.write_text(table())
