"""Opening hours, and what is calculated from them."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow.models import OpeningHours
from shopflow.services.actor import Actor
from shopflow.services.shop import opening_hours
from tests.services.expecting import assert_logged, faults_at


def test_the_usual_hours_hold_until_they_are_changed(db: Session, by: Actor):
    row = opening_hours.the_hours(db)
    assert opening_hours.open_hours(row).week == (480, 480, 480, 480, 480, 0, 0)
    assert db.get(OpeningHours, 1) is None
    opening_hours.change(db, by, row, {"friday": "6.5", "saturday": "", "people_at_bench": "2"})
    assert_logged(db, row, by, "changed", friday=["8", "6.5"])
    hours = opening_hours.open_hours(opening_hours.the_hours(db))
    assert (hours.week, hours.people) == ((480, 480, 480, 480, 390, 0, 0), 2)
    assert opening_hours.the_hours(db).friday == Decimal("6.5")


def test_closed_days_are_read_line_by_line(db: Session, by: Actor):
    row = opening_hours.the_hours(db)
    written = "2026-12-25 Christmas\n\n 2026-07-20 to 2026-07-22 summer\n"
    opening_hours.change(db, by, row, {"closed_days": written, "opens_at": "7:30"})
    hours = opening_hours.open_hours(row)
    assert hours.closed == {date(2026, 12, 25), *(date(2026, 7, day) for day in (20, 21, 22))}
    assert hours.of_day(date(2026, 12, 25)) == 0
    assert hours.opens_at == 450


@pytest.mark.parametrize(
    "line",
    [
        "Christmas",
        "2026-02-30",
        "2026-07-31 to 2026-07-20",
        "2026-01-01 to 2028-01-01",
        "25/12/2026",
    ],
)
def test_a_line_that_is_no_date_is_named(db: Session, by: Actor, line: str):
    with faults_at("closed_days"):
        opening_hours.change(
            db, by, opening_hours.the_hours(db), {"closed_days": f"2026-12-25\n{line}"}
        )


def test_what_cannot_be_is_refused_at_its_field(db: Session, by: Actor):
    wrong = {"monday": "25", "tuesday": "-1", "opens_at": "25:00", "people_at_bench": "0"}
    with faults_at(*wrong):
        opening_hours.change(db, by, opening_hours.the_hours(db), wrong)
