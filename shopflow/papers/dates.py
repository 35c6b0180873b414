"""Dates and times as papers show them: in the shop's zone and the shop's order."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

NONE = "–"
MONTHS = (
    "Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec",
)  # fmt: skip
FORMATS = {
    "iso": "{date:%Y-%m-%d}",
    "dmy": "{date.day} {month} {date.year}",
    "mdy": "{month} {date.day}, {date.year}",
}
"""How a date is written, by the code kept in the shop's settings; none can be misread."""


def day(found: date | None, style: str = "iso") -> str:
    """A date, or a dash.

    >>> day(date(2026, 3, 5), "dmy")
    '5 Mar 2026'
    """
    if found is None:
        return NONE
    return FORMATS[style].format(date=found, month=MONTHS[found.month - 1])


def moment(found: datetime | None, zone: str, style: str = "iso", *, clock: bool = False) -> str:
    """The day of a moment in a time zone, with its time where `clock`; or a dash."""
    if found is None:
        return NONE
    local = found.astimezone(ZoneInfo(zone))
    text = day(local.date(), style)
    return f"{text}, {local:%H:%M}" if clock else text
