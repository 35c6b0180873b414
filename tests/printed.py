"""Numbers of a document, which has each to the place of its uncertainty."""

from __future__ import annotations

import re
from collections.abc import Collection

NUMBER = re.compile(r"\d+(?:\.\d+)?")


def states(lines: Collection[str], wanted: str) -> bool:
    """True where one line is the number wanted, as both round to the decimals of the coarser.

    A line of fewer than two significant digits states nothing; what is more than a number is to
    be there as it is.
    """
    if not NUMBER.fullmatch(wanted):
        return wanted in lines
    return any(
        _agrees(line, wanted)
        for line in lines
        if NUMBER.fullmatch(line) and len(line.replace(".", "").lstrip("0")) > 1
    )


def _agrees(line: str, wanted: str) -> bool:
    coarser = min(_decimals(line), _decimals(wanted))
    return abs(float(line) - float(wanted)) <= 0.5 * 10.0**-coarser * (1 + 1e-9)


def _decimals(number: str) -> int:
    return len(number.partition(".")[2])
