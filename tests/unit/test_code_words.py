"""Docstrings begin with a verb or the noun; names say what they hold."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

import shopflow
from tests.sources import nodes

ROOT = Path(shopflow.__file__).parents[1]

QUESTION = re.compile(r"\s*(how|what|when|where|whether|which|who|whose|why)\b", re.IGNORECASE)

# Words that fit anything: name the thing instead, as row, answer, index, field.
FILLERS = frozenset(
    {"asked", "found", "given", "held", "kept", "known", "made", "one", "place", "said", "taken"}
    | {"told", "what", "whole"}
)

DOCUMENTED = (
    ast.Module, ast.ClassDef, ast.FunctionDef, ast.AsyncFunctionDef, ast.Assign, ast.AnnAssign,
)  # fmt: skip


def modules(*folders: str) -> list[Path]:
    """Modules under these folders, by their path."""
    return sorted(path for folder in folders for path in (ROOT / folder).rglob("*.py"))


def docstrings(path: Path) -> Iterator[tuple[int, str]]:
    """Docstrings of a module, its classes, functions and fields, with their line."""
    for node in nodes(path):
        body = getattr(node, "body", None)
        for before, statement in (
            zip([node, *body], body, strict=False) if isinstance(body, list) else ()
        ):
            match statement:
                case ast.Expr(value=ast.Constant(value=str(text))) if isinstance(
                    before, DOCUMENTED
                ):
                    yield statement.lineno, text


@pytest.mark.parametrize("folder", ["shopflow", "tests"])
def test_docstrings_begin_with_a_verb_or_the_noun(folder: str) -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{line}: {' '.join(text.split())[:70]}"
        for path in modules(folder)
        for line, text in docstrings(path)
        if QUESTION.match(text)
    ]
    assert not slips, "\n".join(slips)


@pytest.mark.parametrize("folder", ["shopflow", "tests"])
def test_functions_classes_and_modules_are_named_for_what_they_are(folder: str) -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{node.lineno}: {node.name}"
        for path in modules(folder)
        for node in nodes(path)
        if isinstance(node, ast.FunctionDef | ast.AsyncFunctionDef | ast.ClassDef)
        and node.name.strip("_").lower() in FILLERS
    ]
    slips += [str(path.relative_to(ROOT)) for path in modules(folder) if path.stem in FILLERS]
    assert not slips, "\n".join(slips)


LOCAL_FILLERS = frozenset({"found", "known", "made", "said"})


@pytest.mark.parametrize("folder", ["shopflow", "tests"])
def test_variables_and_arguments_are_named_for_what_they_hold(folder: str) -> None:
    slips = [
        f"{path.relative_to(ROOT)}:{line}: {name}"
        for path in modules(folder)
        for function in nodes(path)
        if isinstance(function, ast.FunctionDef | ast.AsyncFunctionDef | ast.Lambda)
        for line, name in bound_in(function)
        if name in LOCAL_FILLERS
    ]
    slips += [
        f"{path.relative_to(ROOT)}: {name}"
        for path in sorted((ROOT / folder).rglob("*.html"))
        for name in re.findall(r"\{%-? (?:for|set) (\w+)", path.read_text(encoding="utf-8"))
        if name in LOCAL_FILLERS | {"it", "one"}
    ]
    assert not slips, "\n".join(slips)


def bound_in(function: ast.AST) -> Iterator[tuple[int, str]]:
    """Variables and arguments of a function, each with its line."""
    for node in ast.walk(function):
        match node:
            case ast.Name(ctx=ast.Store()):
                yield node.lineno, node.id
            case ast.arg():
                yield node.lineno, node.arg
