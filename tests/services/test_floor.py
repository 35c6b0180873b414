"""The floor: who comes first, what is at risk, and what a week can hold."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import date

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import JobState
from shopflow.services.actor import Actor
from shopflow.services.jobs import jobs
from shopflow.services.planning import capacity, floor
from shopflow.services.routing import holds, operations
from tests import factories

TUESDAY = date(2026, 3, 10)
WEEK = OpenHours((480, 480, 480, 480, 480, 0, 0))


def promised(db: Session, day: str, *minutes: int, kind: str = "flow-test"):
    """A job with one head, promised for a day, with steps of these minutes."""
    job = factories.create_job(db, promised_on=day)
    for count in minutes:
        factories.create_operation(db, job.heads[0], kind, planned_minutes=str(count))
    return job


def rows(db: Session, hours: OpenHours = WEEK):
    db.flush()
    return floor.rows(db, hours, TUESDAY)


def test_open_heads_come_late_first_then_at_risk_then_as_promised(db: Session, by: Actor):
    dates = {"later": "2026-03-20", "late": "2026-03-09", "today": "2026-03-10", "open": ""}
    by_name = {name: promised(db, day) for name, day in dates.items()}
    # 24 hours on Thursday, when three days of eight are open, then 30 hours by the Friday.
    by_name["held"] = promised(db, "2026-03-12", 1440)
    by_name["risk"] = promised(db, "2026-03-13", 800, 1000)
    jobs.cancel(db, by, factories.create_job(db, promised_on="2026-03-01"), "sold")
    answer = rows(db)
    order = ("late", "risk", "today", "held", "later", "open")
    assert [row.head.job for row in answer] == [by_name[name].number for name in order]
    assert [row.is_late for row in answer] == [True, *[False] * 5]
    assert [row.at_risk for row in answer] == [False, True, *[False] * 4]
    risk = answer[1].outlook
    assert (risk.to_do, risk.open_for, risk.own) == (3240, 4 * 480, 1800)
    factories.approve(db, by, by_name["late"], "Orla Finch", "telephone")
    factories.make_ready(db, by, by_name["late"])
    assert not any(row.is_late for row in rows(db))


def test_signed_off_and_skipped_steps_are_not_left_to_do(db: Session, machinist: Actor):
    job = promised(db, "2026-03-10", 480, 100)
    assert rows(db)[0].at_risk
    factories.approve(db, machinist, job, "Orla Finch", "telephone")
    step = job.heads[0].operations[0]
    operations.start(db, machinist, step)
    # It counts in full until it is signed off.
    assert rows(db)[0].outlook.own == 580
    operations.sign_off(db, machinist, step, {})
    assert not rows(db)[0].at_risk
    operations.skip(db, machinist, job.heads[0].operations[1], "not wanted")
    assert rows(db)[0].outlook.own == 0


def test_a_head_that_waits_says_for_what_and_cannot_begin_before(db: Session, machinist: Actor):
    job = promised(db, "2026-03-13", 700)
    visit = job.heads[0]
    assert not rows(db)[0].at_risk
    values = {"wait_for": "parts", "what": "8 exhaust valves", "since": "2026-03-02"}
    wait = holds.begin(db, machinist, visit, {**values, "expected_on": "2026-03-13"})
    (row,) = rows(db)
    assert (row.waits, row.at_risk, row.outlook.own_open) == ([wait], True, 480)
    holds.end(db, machinist, wait)
    (row,) = rows(db)
    assert (row.waits, row.at_risk) == ([], False)


def test_a_week_holds_what_it_is_open_for(db: Session):
    promised(db, "2026-03-09", 60)  # late: this week
    promised(db, "2026-03-13", 2000, 200)
    promised(db, "2026-03-16", 300, kind="seat-cut")
    promised(db, "2026-05-04", 30)  # the ninth week
    promised(db, "", 45)
    answer = capacity.by_week(rows(db), WEEK, TUESDAY, 0)
    first, second, *rest = answer.weeks
    assert [week.first for week in answer.weeks[:2]] == [date(2026, 3, 9), date(2026, 3, 16)]
    assert len(answer.weeks) == 8
    # Monday is past: four days of 480 against 60 + 2200.
    assert (first.open_for, first.total, first.over, first.carried) == (1920, 2260, 340, 340)
    assert dict(second.booked) == {"Cut seats": 300}
    assert (second.open_for, second.over, second.carried) == (2400, 0, 0)
    assert not any(week.total for week in rest)
    assert (dict(answer.later), dict(answer.undated)) == ({"Flow-test": 30}, {"Flow-test": 45})
    assert answer.kinds == ["Flow-test", "Cut seats"]


def test_a_week_over_may_be_held_by_the_time_before_it(db: Session):
    promised(db, "2026-03-20", 2500)
    answer = capacity.by_week(rows(db), WEEK, TUESDAY, 0)
    assert (answer.weeks[1].over, answer.weeks[1].carried) == (100, 0)


def test_what_is_ready_books_nothing(db: Session, machinist: Actor):
    job = promised(db, "2026-03-13", 60)
    job.state = JobState.READY
    assert capacity.by_week(rows(db), WEEK, TUESDAY).kinds == []
    assert rows(db)[0].outlook.own == 0


@contextmanager
def statements(db: Session) -> Iterator[list[str]]:
    """Record the statements sent to the database."""
    seen: list[str] = []

    def note(connection, cursor, statement, *rest):
        seen.append(statement)

    connection = db.connection()
    event.listen(connection, "before_cursor_execute", note)
    yield seen
    event.remove(connection, "before_cursor_execute", note)


@pytest.mark.parametrize("head_count", [1, 2])
def test_the_queries_are_as_many_for_few_heads_as_for_many(
    db: Session, machinist: Actor, head_count: int
):
    def statement_count() -> int:
        db.flush()
        db.expunge_all()
        with statements(db) as seen:
            answer = floor.rows(db, WEEK, TUESDAY)
            capacity.by_week(answer, WEEK, TUESDAY)
            for row in answer:
                output = (row.where, row.head.customer, row.head.engine_type, row.head.identity)
                assert all(output)
                assert [wait.what for wait in row.waits] == ["valves"]
        return len(seen)

    def fill(number: int) -> None:
        for _ in range(number):
            job = factories.create_job(db, head_count=head_count, promised_on="2026-03-13")
            for visit in job.heads:
                factories.create_operation(db, visit, planned_minutes="30")
                holds.begin(db, machinist, visit, {"wait_for": "parts", "what": "valves",
                                                  "since": "2026-03-01"})  # fmt: skip

    fill(2)
    few = statement_count()
    fill(20)
    assert statement_count() == few <= 12
