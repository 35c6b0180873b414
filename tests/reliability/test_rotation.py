"""Deletion of backups; the expected lists are calculated by hand from a calendar."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta

import pytest

from shopflow.backup.rotation import Keep, name_at, superseded

START = datetime(2026, 1, 1, 3, tzinfo=UTC)
EVERY_NIGHT = [name_at(START + timedelta(days=day)) for day in range(90)]
"""Every night from Thursday 1 January to Tuesday 31 March 2026."""


def remaining_days(names: list[str], keep: Keep, newest: str | None = None) -> list[str]:
    """Month and day of what stays."""
    gone = superseded(names, keep, newest or names[-1])
    return [f"{name[13:15]}-{name[15:17]}" for name in names if name not in gone]


@pytest.mark.parametrize(
    ("keep", "days"),
    [
        (Keep(days=3), ["03-29", "03-30", "03-31"]),
        # Sundays end a week of ISO 8601.
        (Keep(weeks=3), ["03-22", "03-29", "03-31"]),
        (Keep(months=3), ["01-31", "02-28", "03-31"]),
        (Keep(days=2, weeks=2, months=2), ["02-28", "03-29", "03-30", "03-31"]),
    ],
)
def test_the_newest_of_each_day_week_and_month_stays(keep: Keep, days: list[str]):
    assert remaining_days(EVERY_NIGHT, keep) == days


def test_all_stay_where_nothing_is_said():
    assert superseded(EVERY_NIGHT, Keep(), EVERY_NIGHT[-1]) == []


def test_days_without_a_backup_do_not_count():
    names = [EVERY_NIGHT[0], EVERY_NIGHT[40], EVERY_NIGHT[80]]
    assert remaining_days(names, Keep(days=3)) == ["01-01", "02-10", "03-22"]


def test_the_one_just_made_stays_though_the_clock_was_set_back():
    name = name_at(START - timedelta(days=30))
    gone = superseded([*EVERY_NIGHT, name], Keep(days=2), newest=name)
    assert name not in gone
    assert len(gone) == len(EVERY_NIGHT) - 2


def test_what_is_no_backup_is_left_alone():
    others = ["notes.txt", "shopflow-old.tar", ".unfinished-x", "shopflow-20260101T030000Z.tar.gz"]
    assert superseded([*others, *EVERY_NIGHT], Keep(days=1), EVERY_NIGHT[-1]) == [
        *reversed(EVERY_NIGHT[:-1])
    ]
