"""Dates and times as papers show them: in the shop's zone and the shop's order and language."""

from __future__ import annotations

from datetime import date, datetime
from zoneinfo import ZoneInfo

from babel.dates import format_date

NONE = "–"
FORMATS = {
    "iso": ("yyyy-MM-dd", "en"),
    "dmy": ("d MMM yyyy", "en"),
    "mdy": ("MMM d, yyyy", "en"),
    "de": ("long", "de"),
    "fr": ("long", "fr"),
    "es": ("long", "es"),
}
"""Date formats by the code in the shop's settings: pattern and language of the Unicode locale data;
none can be misread."""


def day(value: date | None, style: str = "iso") -> str:
    """A date, or a dash.

    >>> day(date(2026, 3, 5), "dmy")
    '5 Mar 2026'
    >>> day(date(2026, 3, 5), "de")
    '5. März 2026'
    """
    if value is None:
        return NONE
    pattern, language = FORMATS[style]
    return str(format_date(value, pattern, locale=language))


def moment(value: datetime | None, zone: str, style: str = "iso", *, clock: bool = False) -> str:
    """The day of a moment in a time zone, with its time where `clock`; or a dash."""
    if value is None:
        return NONE
    local = value.astimezone(ZoneInfo(zone))
    text = day(local.date(), style)
    return f"{text}, {local:%H:%M}" if clock else text
