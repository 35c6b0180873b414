"""Docstrings begin with a verb or the noun; names say what they hold."""

from __future__ import annotations

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

import pytest

import shopflow

ROOT = Path(shopflow.__file__).parents[1]

# Packages and modules whose docstrings are not done yet; each that is done leaves this list.
DOCSTRINGS_NOT_YET: tuple[str, ...] = ()

# The same of names of variables and arguments.
VARIABLES_NOT_YET: tuple[str, ...] = ()

QUESTIONS = frozenset({"how", "what", "when", "where", "whether", "which", "who", "whose", "why"})

# Words that fit anything: name the thing instead, as row, answer, index, field.
FILLERS = frozenset(
    {"asked", "found", "given", "held", "kept", "known", "made", "one", "place", "said", "taken"}
    | {"told", "what", "whole"}
)

# Columns of the database and fields that have the word as the trade uses it.
FIELDS_THAT_MAY = frozenset({"found", "place", "what"})

Documented = ast.Module | ast.ClassDef | ast.FunctionDef | ast.AsyncFunctionDef


def modules(*folders: str) -> list[Path]:
    """Modules under these folders, by their path."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


@cache
def tree(path: Path) -> ast.Module:
    return ast.parse(path.read_text(encoding="utf-8"))


def is_in(path: Path, names: tuple[str, ...]) -> bool:
    """True where a path lies at or under one of these."""
    return any(path.is_relative_to(ROOT / name) for name in names)


def docstrings(module: ast.Module) -> Iterator[tuple[int, str]]:
    """Docstrings of a module, its classes, functions and attributes, with their line."""
    for node in ast.walk(module):
        for before, statement in (
            zip([None, *getattr(node, "body", [])], getattr(node, "body", []), strict=False)
            if isinstance(getattr(node, "body", None), list)
            else ()
        ):
            match statement:
                case ast.Expr(value=ast.Constant(value=str(text))) if text.strip() and (
                    (before is None and isinstance(node, Documented))
                    or isinstance(before, ast.Assign | ast.AnnAssign)
                ):
                    yield statement.lineno, text


@pytest.mark.parametrize("folder", ["shopflow", "tests"])
def test_docstrings_begin_with_a_verb_or_the_noun(folder: str) -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{line}: {' '.join(text.split())[:70]}"
        for path in modules(folder)
        if not is_in(path, DOCSTRINGS_NOT_YET)
        for line, text in docstrings(tree(path))
        if text.split()[0].strip(",:;.’'").lower() in QUESTIONS
    ]
    assert not slips, "\n".join(slips)


@pytest.mark.parametrize("folder", ["shopflow", "tests"])
def test_functions_classes_and_modules_are_named_for_what_they_are(folder: str) -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{node.lineno}: {node.name}"
        for path in modules(folder)
        for node in ast.walk(tree(path))
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and node.name.strip("_").lower() in FILLERS
    ]
    slips += [str(path.relative_to(ROOT)) for path in modules(folder) if path.stem in FILLERS]
    assert not slips, "\n".join(slips)
