"""Python sources of the program and of its tests, each parsed once in a process."""

from __future__ import annotations

import ast
from functools import cache
from pathlib import Path


@cache
def tree(path: Path) -> ast.Module:
    """The syntax tree of a file."""
    return ast.parse(path.read_text(encoding="utf-8"))


@cache
def nodes(path: Path) -> tuple[ast.AST, ...]:
    """Every node of a file's syntax tree."""
    return tuple(ast.walk(tree(path)))
