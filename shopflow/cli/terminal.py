"""Text on a terminal: single lines and plain tables."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

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
