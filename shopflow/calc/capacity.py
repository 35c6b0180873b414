"""Open hours against planned work: what can be done by when."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta

FARTHEST = 3660
"""Days looked ahead at most: a promise ten years off is not counted more closely."""


@dataclass(frozen=True, slots=True)
class OpenHours:
    """Opening hours of a shop, and the number of workers.

    `week` has the minutes open from Monday to Sunday, `closed` the days it is shut besides,
    `people` those at the bench, each of whom works the minutes open.
    """

    week: tuple[int, int, int, int, int, int, int]
    people: int = 1
    closed: frozenset[date] = field(default_factory=frozenset)
    opens_at: int = 0
    """Minutes after midnight; only what is left of a day that has begun depends on it."""

    def of_day(self, day: date) -> int:
        """Minutes open on a day."""
        return 0 if day in self.closed else self.week[day.weekday()]

    def left_of_day(self, day: date, minute: int) -> int:
        """Minutes still open on a day at this minute after midnight.

        >>> OpenHours((480,) * 7, opens_at=480).left_of_day(date(2026, 3, 2), 15 * 60)
        60
        """
        open_for = self.of_day(day)
        return max(0, min(open_for, self.opens_at + open_for - minute))


@dataclass(frozen=True, slots=True)
class Work:
    """Minutes planned on a head, the day they are due, and the day work on it can begin."""

    minutes: int
    due: date | None = None
    begins: date | None = None
    """Day until which it is on hold; None where it can begin at once."""


@dataclass(frozen=True, slots=True)
class Outlook:
    """Work that stands against a head's promise; minutes of all people together where not
    stated."""

    to_do: int
    """Left on the head and on those ahead of it."""

    open_for: int | None
    """Open until the promise; none where nothing is promised."""

    own: int
    own_open: int | None
    """Open to one person from the day work can begin: one head is worked on by one at a time."""

    @property
    def at_risk(self) -> bool:
        """True where more work remains than there is time open for."""
        if self.open_for is None or self.own_open is None or not self.own:
            return False
        return self.to_do > self.open_for or self.own > self.own_open


def outlooks(
    queue: Sequence[Work], hours: OpenHours, today: date, minute: int = 0
) -> list[Outlook]:
    """Outlook of each head's promise, with the heads done in this order.

    Parameters
    ----------
    queue : heads in the order they are due, the undated last
    hours : when the shop is open
    today, minute : the day, and the minute after midnight, in the shop

    Notes
    -----
    A head is at risk where the minutes on it and on all ahead of it are more than people times
    the minutes open up to the end of the day promised; or where its own are more than one person
    has from the day that what it waits for is there. Doing what is due first first is the order
    that makes the greatest lateness least (J. R. Jackson, "Scheduling a production line to
    minimize maximum tardiness", 1955), so that for one person, and nothing waited for, heads are
    at risk exactly where no order keeps every promise up to theirs. Minutes count in full until
    the step is signed off.

    Examples
    --------
    Two heads due tomorrow, eight hours a day, one person: 600 and 400 minutes against 960.

    >>> monday = date(2026, 3, 2)
    >>> due = date(2026, 3, 3)
    >>> week = OpenHours((480, 480, 480, 480, 480, 0, 0))
    >>> [outlook.at_risk for outlook in outlooks([Work(600, due), Work(400, due)], week, monday)]
    [False, True]
    """
    running = _running(queue, hours, today, minute)
    results, to_do = [], 0
    for work in queue:
        to_do += work.minutes
        if work.due is None:
            results.append(Outlook(to_do, None, work.minutes, None))
            continue
        until = _up_to(running, today, work.due)
        before = _before(running, today, work.begins) if work.begins else 0
        own_open = max(0, until - before)
        results.append(Outlook(to_do, hours.people * until, work.minutes, own_open))
    return results


def open_between(hours: OpenHours, first: date, last: date, today: date, minute: int = 0) -> int:
    """Minutes all people together have from one day to another, what is past left out."""
    return hours.people * sum(
        hours.left_of_day(day, minute) if day == today else hours.of_day(day)
        for day in _days(max(first, today), last)
    )


def _running(queue: Iterable[Work], hours: OpenHours, today: date, minute: int) -> list[int]:
    """Minutes open to one person from now to the end of each day, up to the last that is due."""
    last = max((work.due for work in queue if work.due), default=today)
    total, totals = 0, []
    for day in _days(today, min(last, today + timedelta(days=FARTHEST))):
        total += hours.left_of_day(day, minute) if day == today else hours.of_day(day)
        totals.append(total)
    return totals


def _up_to(running: Sequence[int], today: date, day: date) -> int:
    """Minutes open up to the end of a day; none where it is past."""
    if day < today or not running:
        return 0
    return running[min((day - today).days, len(running) - 1)]


def _before(running: Sequence[int], today: date, day: date) -> int:
    """Minutes open before a day."""
    return _up_to(running, today, day - timedelta(days=1))


def _days(first: date, last: date) -> Iterable[date]:
    return (first + timedelta(days=number) for number in range((last - first).days + 1))
