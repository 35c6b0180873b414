"""Loose parts that came in with a head: one line each, the count first."""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any

from sqlalchemy import inspect
from sqlalchemy.orm import Session
from sqlalchemy.orm.attributes import flag_modified

from shopflow.models import ReceivedPart, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext, lazy

USUAL = {
    "intake_valves": lazy("intake valves"),
    "exhaust_valves": lazy("exhaust valves"),
    "springs": lazy("springs"),
    "retainers": lazy("retainers"),
    "locks": lazy("locks"),
    "cams": lazy("cams"),
    "followers": lazy("followers"),
    "bolts": lazy("bolts"),
}
"""Names of the parts a head usually brings along, each asked for by its count in a field."""

MOST_PARTS = 60
_LINE = re.compile(r"(?:(\d{1,5})\s*[x×]?\s+)?(\S.*)")


def read(value: Any) -> dict[str, int]:
    """Parts by name, from lines as "16 valves"; a line without a count is one of it.

    Raises ValueError where a line has no name, a count of nothing, or there are too many lines.
    """
    if isinstance(value, Mapping):
        return dict(value)
    counts: dict[str, int] = {}
    for line in fields.words()(value).splitlines():
        if not line.strip():
            continue
        match = _LINE.fullmatch(line.strip())
        if match is None or match[2].isdigit() or (match[1] and not int(match[1])):
            raise ValueError(
                gettext("'{line}': write a count and a name, as '16 valves'", line=line.strip())
            )
        name = fields.text()(match[2])
        counts[name] = counts.get(name, 0) + int(match[1] or 1)
    if len(counts) > MOST_PARTS:
        raise ValueError(
            gettext("too many kinds of parts: enter at most {most_parts}", most_parts=MOST_PARTS)
        )
    return counts


def in_lines(visit: Visit) -> str:
    """The parts of a stay as `read` takes them."""
    return "\n".join(f"{part.count} {part.name}" for part in visit.parts)


def replace(db: Session, by: Actor, visit: Visit, wanted: Mapping[str, int]) -> None:
    """Replace the parts of a visit, and log the change where there is one."""
    before = in_lines(visit)
    by_name = {part.name: part for part in visit.parts}
    rows = []
    for position, (name, count) in enumerate(wanted.items(), start=1):
        row = by_name.get(name) or ReceivedPart(name=name)
        row.position, row.count = position, count
        rows.append(row)
    visit.parts = rows
    after = in_lines(visit)
    if before != after:
        if inspect(visit).persistent:
            # The parts lie in rows of their own; the stay counts as changed all the same.
            flag_modified(visit, "parts_received")
        counted = [lines.replace("\n", ", ") for lines in (before, after)]
        audit_log.record(db, by, visit, "parts counted", job=visit.job, changes={"parts": counted})
