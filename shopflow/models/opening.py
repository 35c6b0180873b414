"""When the shop is open, and how many work in it: one row, kept when first changed."""

from __future__ import annotations

from typing import Any

from sqlalchemy import CheckConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Versioned, Words

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")
DAY = 24 * 60
"""Minutes."""

DEFAULTS: dict[str, Any] = {
    "id": 1,
    **dict.fromkeys(WEEKDAYS[:5], 480),
    **dict.fromkeys(WEEKDAYS[5:], 0),
    "opens_at": 480,
    "people_at_bench": 1,
    "closed_days": "",
    "calendar_names": False,
}
"""Five days of eight hours from eight, one person: what a shop changes to its own."""


class OpeningHours(Versioned, Base):
    """Minutes open on each weekday, the days closed, and the people at the bench."""

    __tablename__ = "opening_hours"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        *(
            CheckConstraint(f"{day} BETWEEN 0 AND {DAY}", name=f"{day}_in_a_day")
            for day in WEEKDAYS
        ),
        CheckConstraint(f"opens_at BETWEEN 0 AND {DAY - 1}", name="opens_in_a_day"),
        CheckConstraint("people_at_bench >= 1", name="someone_at_bench"),
    )

    id: Mapped[int] = mapped_column(primary_key=True)
    monday: Mapped[int]
    tuesday: Mapped[int]
    wednesday: Mapped[int]
    thursday: Mapped[int]
    friday: Mapped[int]
    saturday: Mapped[int]
    sunday: Mapped[int]
    opens_at: Mapped[int]
    """Minutes after midnight, of every day it opens."""

    people_at_bench: Mapped[int]
    closed_days: Mapped[Words]
    """As written: a line each, "2026-12-25 Christmas" or "2026-07-20 to 2026-07-31"."""

    calendar_names: Mapped[bool]
    """Whether calendars that people subscribe to name the customer."""

    def __init__(self, **values: Any) -> None:
        # All of it is known before the row is kept: the floor reckons with it either way.
        super().__init__(**{**DEFAULTS, **values})
