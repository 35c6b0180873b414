"""Center lines of scanned ports: as typed, or proposed from the scan."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from itertools import pairwise

from shopflow.calc import center_line_proposal
from shopflow.calc.array_types import Floats
from shopflow.calc.center_line import CenterLine
from shopflow.errors import FieldError, ValidationError
from shopflow.files.scans import Scan
from shopflow.texts import gettext

Points = tuple[tuple[float, float, float], ...]
Ends = tuple[center_line_proposal.Start | None, Floats | None]
"""A start of a line, and the place it leads to, where known."""

MOST_POINTS = 60

_BETWEEN = re.compile(r"[\s,;]+")


def propose(scan: Scan, typed: str) -> str:
    """A center line, a point a line, in the scan's unit.

    It starts at the larger opening of the scan; where two points are typed, at the first of them
    toward the second. Raises ValidationError at `center_line`.
    """
    points = read_points(typed) if typed.strip() else ()
    if len(points) > 2:
        raise at_line(
            gettext(
                "has {count} points already: clear it to start at the larger opening, or leave the "
                "first two points to start there",
                count=len(points),
            )
        )
    start, end = _start_at(points) if points else _start_of(scan)
    proposed = start and center_line_proposal.propose(scan.vertices, scan.faces, start, end)
    if proposed is None:
        raise at_line(
            gettext(
                "no way through the scan was found: enter the first two points in the middle of "
                "the port, or the whole line"
            )
        )
    return written(proposed.tolist())


def reverse(typed: str) -> str:
    """A center line from its other end. Raises ValidationError at `center_line`."""
    return written(read_points(typed)[::-1])


def written(points: Sequence[Sequence[float]]) -> str:
    """Points as they are typed, one on each line."""
    return "\n".join(" ".join(f"{round(value, 4) + 0.0:g}" for value in point) for point in points)


def _start_at(points: Points) -> Ends:
    start = CenterLine(points).at(0.0)
    return (start.position, start.tangent), None


def _start_of(scan: Scan) -> Ends:
    """The larger opening of a scan, and the middle of the other."""
    ends = center_line_proposal.openings(scan.vertices, scan.faces)
    if not ends:
        raise at_line(
            gettext(
                "the scan has no open end to start from: enter the first two points in the middle "
                "of the port, then propose the center line again"
            )
        )
    start = center_line_proposal.start_of(scan.vertices, scan.faces, ends[0])
    return start, ends[1].mean(axis=0) if len(ends) > 1 else None


def read_points(typed: str) -> Points:
    """Points of a center line as typed, three numbers a line. Raises ValidationError."""
    points: list[tuple[float, float, float]] = []
    for number, line in enumerate(typed.splitlines(), start=1):
        if line.strip():
            points.append(_point(number, line))
    if len(points) < 2:
        raise at_line(gettext("too few points: enter two or more, one on each line"))
    if len(points) > MOST_POINTS:
        raise at_line(gettext("too many points: enter at most {most}", most=MOST_POINTS))
    for number, (here, following) in enumerate(pairwise(points), start=1):
        if math.dist(here, following) < 1e-9:
            raise at_line(
                gettext("points {number} and {next} are the same: remove one of them",
                        number=number, next=number + 1)
            )  # fmt: skip
    return tuple(points)


def _point(number: int, line: str) -> tuple[float, float, float]:
    try:
        x, y, z = (float(part) for part in _BETWEEN.split(line.strip()))
    except ValueError:
        x = y = z = math.nan
    if not all(abs(value) < 1e6 for value in (x, y, z)):
        raise at_line(
            gettext(
                "line {number}, '{line}', is not a point: enter three numbers, x y z",
                number=number,
                line=line.strip()[:40],
            )
        )
    return x, y, z


def at_line(message: str) -> ValidationError:
    """A validation error at the center line."""
    return ValidationError([FieldError("center_line", message)])
