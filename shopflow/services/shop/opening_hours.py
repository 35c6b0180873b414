"""Opening hours: reading and changing them, and the hours available to plan with."""

from __future__ import annotations

import re
from collections.abc import Iterator, Mapping
from datetime import date, timedelta
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import OpeningHours
from shopflow.models.opening_hours import WEEKDAYS
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.texts import gettext

LONGEST_CLOSED = 366
"""Days one line of closed days may span."""

_LINE = re.compile(r"(\d{4}-\d{2}-\d{2})(?:\s+to\s+(\d{4}-\d{2}-\d{2}))?(?:\s.*)?", re.IGNORECASE)
_TIME = re.compile(r"([01]?\d|2[0-3]):([0-5]\d)")


def _hours(value: Any) -> Decimal:
    hours: Decimal | None = fields.decimal(places=2)(value)
    if hours is not None and hours > 24:
        raise ValueError(gettext("a day has 24 hours: enter at most 24"))
    return hours or Decimal(0)


def _time(value: Any) -> str:
    match = _TIME.fullmatch(str(value or "").strip())
    if match is None:
        raise ValueError(gettext("enter a time of day like 08:00"))
    return f"{int(match[1]):02d}:{match[2]}"


def _closed_days(value: Any) -> str:
    text = str(fields.words()(value))
    for number, line in enumerate(text.splitlines(), start=1):
        try:
            list(_days(line))
        except ValueError as error:
            raise ValueError(
                gettext(
                    "line {number}, '{line}': {error}",
                    number=number,
                    line=line.strip(),
                    error=error,
                )
            ) from None
    return text


SPECIFICATION: fields.Specification = {
    **dict.fromkeys(WEEKDAYS, _hours),
    "opens_at": _time,
    "people_at_bench": fields.count(least=1, required=True),
    "closed_days": _closed_days,
    "calendar_names": fields.flag(),
}


def the_hours(db: Session) -> OpeningHours:
    """The opening hours; the usual ones, not kept yet, where the shop has changed nothing."""
    return db.get(OpeningHours, 1) or OpeningHours()


def change(db: Session, by: Actor, row: OpeningHours, values: Mapping[str, Any]) -> OpeningHours:
    """Change the opening hours. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    db.add(row)
    audit_log.change(db, by, row, clean)
    return row


def open_hours(row: OpeningHours) -> OpenHours:
    """The hours as calculations take them."""
    monday, tuesday, wednesday, thursday, friday, saturday, sunday = (
        round(getattr(row, day) * 60) for day in WEEKDAYS
    )
    hour, minute = row.opens_at.split(":")
    return OpenHours(
        week=(monday, tuesday, wednesday, thursday, friday, saturday, sunday),
        people=row.people_at_bench,
        closed=frozenset(day for line in row.closed_days.splitlines() for day in _days(line)),
        opens_at=int(hour) * 60 + int(minute),
    )


def _days(line: str) -> Iterator[date]:
    """The days a line names. Raises ValueError where it cannot be read."""
    if not line.strip():
        return
    match = _LINE.fullmatch(line.strip())
    if match is None:
        raise ValueError(gettext("enter a date like 2026-12-25, or 2026-07-20 to 2026-07-31"))
    first = date.fromisoformat(match[1])
    last = date.fromisoformat(match[2]) if match[2] else first
    if not 0 <= (last - first).days < LONGEST_CLOSED:
        raise ValueError(gettext("enter a last day after the first, within a year"))
    yield from (first + timedelta(days=number) for number in range((last - first).days + 1))
