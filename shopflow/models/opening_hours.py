"""Opening hours and number of workers: one row, created at the first change."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

from sqlalchemy import CheckConstraint, String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, DecimalText, Versioned, Words

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")

DEFAULTS: dict[str, Any] = {
    "id": 1,
    **dict.fromkeys(WEEKDAYS[:5], Decimal(8)),
    **dict.fromkeys(WEEKDAYS[5:], Decimal(0)),
    "opens_at": "08:00",
    "people_at_bench": 1,
    "closed_days": "",
    "calendar_names": False,
}
"""Five days of eight hours, one person: what a shop changes to its own."""


class OpeningHours(Versioned, Base):
    """Hours open on each weekday, the days closed, and the people at the bench."""

    __tablename__ = "opening_hours"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("people_at_bench >= 1", name="someone_at_bench"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    monday: Mapped[Decimal] = mapped_column(DecimalText)
    tuesday: Mapped[Decimal] = mapped_column(DecimalText)
    wednesday: Mapped[Decimal] = mapped_column(DecimalText)
    thursday: Mapped[Decimal] = mapped_column(DecimalText)
    friday: Mapped[Decimal] = mapped_column(DecimalText)
    saturday: Mapped[Decimal] = mapped_column(DecimalText)
    sunday: Mapped[Decimal] = mapped_column(DecimalText)
    opens_at: Mapped[str] = mapped_column(String(5))
    """Time of day, as "08:00", of every day it opens."""

    people_at_bench: Mapped[int]
    closed_days: Mapped[Words]
    """As written: a line each, "2026-12-25 Christmas" or "2026-07-20 to 2026-07-31"."""

    calendar_names: Mapped[bool]
    """True where calendars that users subscribe to name the customer."""

    def __init__(self, **values: Any) -> None:
        # All of it is known before the row is kept: the floor reckons with it either way.
        super().__init__(**{**DEFAULTS, **values})
