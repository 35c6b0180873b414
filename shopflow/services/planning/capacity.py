"""Capacity by week: minutes promised against minutes open, by kind of operation."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, timedelta

from shopflow.calc.capacity import OpenHours, open_between
from shopflow.models import JobState
from shopflow.services.planning.floor import FloorRow

WEEKS = 8


@dataclass(frozen=True)
class Week:
    """A week from its Monday: minutes open to all people together, and booked by kind."""

    first: date
    open_for: int
    booked: Counter[str]
    carried: int
    """Minutes booked up to its end beyond all that is open until then; 0 where all fits."""

    @property
    def total(self) -> int:
        """Minutes booked."""
        return self.booked.total()

    @property
    def over(self) -> int:
        """Minutes booked beyond those open in the week itself; 0 where none are."""
        return max(0, self.total - self.open_for)


@dataclass(frozen=True)
class Capacity:
    """The weeks ahead, and what falls in none of them."""

    weeks: list[Week]
    later: Counter[str]
    undated: Counter[str]

    @property
    def kinds(self) -> list[str]:
        """Kinds of operation that are booked, the one with most minutes first."""
        total = sum((week.booked for week in self.weeks), Counter[str]())
        total += self.later + self.undated
        return [kind for kind, _ in sorted(total.items(), key=lambda item: (-item[1], item[0]))]


def by_week(rows: Iterable[FloorRow], hours: OpenHours, today: date, minute: int = 0) -> Capacity:
    """Open planned minutes by the week their job is promised for; late ones count in this week.

    Of the week that has begun, only what is left of it counts as open.
    """
    monday = today - timedelta(days=today.weekday())
    booked = [Counter[str]() for _ in range(WEEKS)]
    later, undated = Counter[str](), Counter[str]()
    for row in rows:
        due = row.head.promised_on
        week = max(0, (due - monday).days // 7) if due else 0
        into = undated if due is None else booked[week] if week < WEEKS else later
        into.update(_minutes(row))
    return Capacity(list(_weeks(booked, hours, monday, today, minute)), later, undated)


def _weeks(
    booked: list[Counter[str]], hours: OpenHours, monday: date, today: date, minute: int
) -> Iterable[Week]:
    spare = 0
    for number, counted in enumerate(booked):
        first = monday + timedelta(weeks=number)
        open_for = open_between(hours, first, first + timedelta(days=6), today, minute)
        spare += open_for - counted.total()
        yield Week(first, open_for, counted, max(0, -spare))


def _minutes(row: FloorRow) -> Counter[str]:
    minutes = Counter[str]()
    if row.head.state is not JobState.READY:
        for step in row.steps:
            minutes[step.name] += step.minutes
    return +minutes
