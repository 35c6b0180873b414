"""A stretch of days in the shop, month by month: what reports are over."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, date, datetime, time, timedelta
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from shopflow.errors import FieldError, ValidationError
from shopflow.services import fields
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

LONGEST = 120
"""Months a report covers at most."""


@dataclass(frozen=True)
class Period:
    """From one day to another, both counted in, as the shop's clock has them."""

    first: date
    last: date
    zone: ZoneInfo

    @property
    def begins(self) -> datetime:
        """The moment it begins."""
        return datetime.combine(self.first, time(), self.zone).astimezone(UTC)

    @property
    def ends(self) -> datetime:
        """The moment after it."""
        return datetime.combine(self.last + timedelta(days=1), time(), self.zone).astimezone(UTC)

    @property
    def months(self) -> list[date]:
        """The first day of every month it touches."""
        return list(_months(self.first, self.last))

    def month(self, moment: datetime) -> date:
        """The first day of the month of a moment, in the shop."""
        return self.day(moment).replace(day=1)

    def day(self, moment: datetime) -> date:
        """The day of a moment, in the shop."""
        return moment.astimezone(self.zone).date()


def read(db: Session, first: str, last: str, today: date) -> Period:
    """Read a period from its typed days; an empty one ends today, and begins the year before.

    Raises ValidationError at "from" or "to".
    """
    day = fields.day()
    clean = fields.read({"from": day, "to": day}, {"from": first, "to": last})
    end = clean["to"] or today
    start = clean["from"] or _year_before(end)
    if start > end:
        raise ValidationError(
            [FieldError("to", gettext("the last day is before the first: enter a later date"))]
        )
    if start.year < 1900 or end.year > 9000:
        raise ValidationError(
            [FieldError("from" if start.year < 1900 else "to", gettext("enter a year from 1900"))]
        )
    if (end.year - start.year) * 12 + end.month - start.month >= LONGEST:
        raise ValidationError([FieldError("from", gettext("too long: choose at most ten years"))])
    return Period(start, end, zone(get_shop(db)))


def _year_before(day: date) -> date:
    """The first day of the twelve months that end with a day's own."""
    return date(day.year - (day.month < 12), day.month % 12 + 1, 1)


def _months(first: date, last: date) -> Iterator[date]:
    month = first.replace(day=1)
    while month <= last:
        yield month
        month = (month + timedelta(days=31)).replace(day=1)
