"""Text on a terminal: single lines, plain tables, warnings and JSON."""

from __future__ import annotations

import sys
from collections.abc import Iterable, Sequence

from shopflow.texts import gettext

LONGEST_LINE = 500


def one_line(text: str) -> str:
    """A text on one line, without control characters that act on a terminal."""
    printable = "".join(letter if letter.isprintable() else " " for letter in text)
    plain = " ".join(printable.split())
    return plain if len(plain) <= LONGEST_LINE else f"{plain[:LONGEST_LINE]} …"


def print_table(heads: Sequence[Sequence[str]], rows: Iterable[Sequence[str]]) -> None:
    """Rows of cells set flush right under one or more rows of headings; an empty line after."""
    lines = [*heads, *rows]
    widths = [max(map(len, column)) for column in zip(*lines, strict=True)]
    for line in lines:
        cells = (cell.rjust(width) for cell, width in zip(line, widths, strict=True))
        print("  ".join(cells).rstrip())
    print()


def transposed(
    columns: Sequence[Sequence[str]],
) -> tuple[list[tuple[str, ...]], list[tuple[str, ...]]]:
    """Columns as two rows of headings and the rows below them."""
    lines = list(zip(*columns, strict=True))
    return lines[:2], lines[2:]


def warn(texts: Iterable[str]) -> None:
    """Say what looks wrong, a line each, beside what is printed."""
    for text in texts:
        print(gettext("warning: {text}", text=one_line(text)), file=sys.stderr)


def print_json(content: object) -> None:
    """Print one JSON value, numbers in full."""
    # Only a command that prints JSON waits for its import.
    import json

    print(json.dumps(content, allow_nan=False, indent=1))
