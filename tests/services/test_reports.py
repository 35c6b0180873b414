"""Reports, against what was put in by hand."""

from __future__ import annotations

import re
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import event
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.models import Job, JobState, Role
from shopflow.services.actor import Actor
from shopflow.services.analysis import gains
from shopflow.services.bench import sessions
from shopflow.services.jobs import jobs
from shopflow.services.planning import reports
from shopflow.services.routing import operations
from shopflow.services.shop import periods
from shopflow.services.shop.periods import Period
from tests import factories
from tests.cli.sessions import AFTER_US, INTAKE_US
from tests.services.expecting import faults_at

TODAY = date(2026, 3, 20)


def at(text: str, by: Actor) -> Actor:
    return Actor(by.person, datetime.fromisoformat(text).replace(tzinfo=UTC))


def period(db: Session, first: str = "2026-01-01", last: str = "2026-03-31") -> Period:
    factories.shop_or_none(db)
    return periods.read(db, first, last, TODAY)


def gone_out(db: Session, by: Actor, booked: str, ready: str, out: str, promised: str = "") -> Job:
    """A job taken through the shop; moments in UTC."""
    job = factories.create_job(db, by=at(booked, by), promised_on=promised)
    factories.approve(db, at(booked, by), job, "Orla Finch", "telephone")
    factories.make_ready(db, at(ready, by), job)
    jobs.move(db, at(out, by), job, JobState.COLLECTED)
    return job


def test_a_period_is_the_twelve_months_up_to_today_where_not_said(db: Session):
    factories.shop_or_none(db)
    answer = periods.read(db, "", "", TODAY)
    assert (answer.first, answer.last) == (date(2025, 4, 1), TODAY)
    assert len(answer.months) == 12
    assert periods.read(db, "", "2026-12-31", TODAY).first == date(2026, 1, 1)
    # The shop is in Chicago: the day begins six hours after that of UTC.
    assert answer.ends == datetime(2026, 3, 21, 5, tzinfo=UTC)
    assert periods.read(db, "2026-01-02", "", TODAY).begins == datetime(2026, 1, 2, 6, tzinfo=UTC)


@pytest.mark.parametrize(
    ("first", "last", "at"),
    [
        ("soon", "", "from"),
        ("2026-03-02", "2026-03-01", "to"),
        ("2000-01-01", "2026-01-01", "from"),
        ("0001-01-01", "2026-01-01", "from"),
        ("9998-01-01", "9999-12-31", "to"),
    ],
)
def test_a_period_that_cannot_be_is_refused(db: Session, first: str, last: str, at: str):
    factories.shop_or_none(db)
    with faults_at(at):
        periods.read(db, first, last, TODAY)


def test_jobs_count_in_the_month_of_the_shops_clock(db: Session, machinist: Actor):
    gone_out(db, machinist, "2026-01-10T12:00", "2026-02-10T12:00", "2026-03-01T05:59")
    factories.create_job(db, by=at("2026-02-01T05:30", machinist))  # still January there
    jobs.cancel(db, at("2026-03-05T12:00", machinist), factories.create_job(db), "sold")
    answer = reports.jobs_by_month(db, period(db))
    counted = [(row.month.month, row.booked_in, row.gone_out, row.cancelled) for row in answer]
    assert counted == [(1, 2, 0, 0), (2, 0, 1, 0), (3, 1, 0, 1)]


def test_turnaround_goes_by_the_day_a_job_became_ready(db: Session, machinist: Actor):
    # Two days early, though fetched ten days later; then three late; then without a promise.
    gone_out(db, machinist, "2026-01-01T15:00", "2026-01-18T15:00", "2026-02-01T15:00",
             "2026-01-20")  # fmt: skip
    gone_out(db, machinist, "2026-01-05T15:00", "2026-02-08T15:00", "2026-02-08T16:00",
             "2026-02-05")  # fmt: skip
    gone_out(db, machinist, "2026-02-01T15:00", "2026-02-11T15:00", "2026-02-12T15:00")
    january, february, march, total = reports.turnaround(db, period(db))
    assert (january.days, march.share, march.usual_days) == ([], None, None)
    assert sorted(february.late) == [-2, 3]
    assert (february.on_time, february.share, february.usual_late, february.latest) == (
        1,
        0.5,
        0.5,
        3,
    )
    assert sorted(february.days) == [10, 17, 34]
    assert february.usual_days == 17
    assert (total.days, total.late) == (february.days, february.late)


def test_going_back_to_work_makes_it_ready_later_and_coming_back_does_not(
    db: Session, machinist: Actor
):
    job = gone_out(db, machinist, "2026-01-01T15:00", "2026-01-10T15:00", "2026-01-12T15:00",
                   "2026-01-10")  # fmt: skip
    jobs.move(db, at("2026-01-13T15:00", machinist), job, JobState.READY)
    jobs.move(db, at("2026-01-14T15:00", machinist), job, JobState.COLLECTED)
    assert reports.turnaround(db, period(db))[-1].late == [0]
    for state, day in ((JobState.READY, 15), (JobState.IN_WORK, 16), (JobState.READY, 20),
                       (JobState.COLLECTED, 21)):  # fmt: skip
        jobs.move(db, at(f"2026-01-{day}T15:00", machinist), job, state)
    assert reports.turnaround(db, period(db))[-1].late == [10]


def test_hours_are_of_steps_whose_time_was_written(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    factories.approve(db, machinist, visit.job, "Orla Finch", "telephone")
    for planned, actual in (("60", "90"), ("30", "15"), ("45", "")):
        step = factories.create_operation(db, visit, planned_minutes=planned)
        operations.start(db, machinist, step)
        operations.sign_off(db, machinist, step, {"actual_minutes": actual})
    factories.create_operation(db, visit, planned_minutes="500")
    (row,) = reports.hours_by_kind(db, period(db))
    assert (row.kind, row.steps, row.timed, row.planned, row.actual) == (
        "Flow-test", 3, 2, 90, 105,
    )  # fmt: skip
    assert reports.hours_by_kind(db, period(db, last="2026-03-04")) == []


def test_revenue_is_invoices_less_credit_notes_before_tax(db: Session, by: Actor):
    owner = factories.someone(db, "Orla Marsh", Role.OWNER)
    factories.create_shop(db, tax_rate_percent="8.25")
    job = factories.create_job(db)
    operation = factories.create_operation(db, job.heads[0], price="100.10")
    other = factories.create_operation(db, job.heads[0], price="50.05")
    factories.approve(db, owner, job)
    first = issuing.issue_invoice(db, at("2026-01-31T15:00", owner), job, [operation.id])
    issuing.issue_invoice(db, at("2026-02-03T15:00", owner), job, [other.id])
    issuing.issue_credit_note(db, at("2026-02-04T15:00", owner), first, "wrong customer")
    answer = reports.revenue_by_month(db, period(db))
    assert [(row.invoices, row.invoiced, row.credited, row.net) for row in answer] == [
        (1, Decimal("100.10"), Decimal(0), Decimal("100.10")),
        (1, Decimal("50.05"), Decimal("100.10"), Decimal("-50.05")),
        (0, Decimal(0), Decimal(0), Decimal(0)),
    ]


def test_gains_are_last_against_first_of_each_port(db: Session, by: Actor):
    kind = factories.create_engine_type(db)
    visits = [factories.create_job(db, engine_type=kind).heads[0] for _ in range(2)]
    for visit in visits:
        for _ in range(2):
            factories.create_session(db, visit)
    factories.create_session(db)  # tested once: no gain
    (row,) = gains.by_engine_type(db, wide(db))
    assert (row.engine_type, row.side, len(row.gains)) == (kind.title, "intake", 2)
    # The same readings twice: nothing gained.
    assert row.gains == pytest.approx((0.0, 0.0), abs=1e-9)
    assert gains.by_engine_type(db, period(db, "2020-01-01", "2020-02-01")) == []


def test_a_gain_is_that_of_the_flows_put_in(db: Session, by: Actor):
    visit = factories.create_visit(db)
    before = factories.create_session(db, visit)
    after = factories.create_session(db, visit)
    for lift in after.lifts:
        for reading in lift.readings:
            reading.flow_si *= 1.1
            reading.flow_typed *= Decimal("1.1")
    db.flush()
    db.expire_all()
    (row,) = gains.by_engine_type(db, wide(db))
    flows = [sessions.reduction(item).flow for item in (before, after)]
    # Every lift flows alike more, so the mean does too, whatever the leakage.
    shares = flows[1] / flows[0] - 1.0
    assert 100 * shares.min() - 1e-9 <= row.median <= 100 * shares.max() + 1e-9
    assert row.median == pytest.approx(10.0, abs=0.5)
    assert len(row.uncertainties) == 1


def test_a_gain_states_an_uncertainty_only_where_both_tests_do(db: Session, by: Actor):
    visit = factories.create_visit(db)
    head, _, rest = INTAKE_US.partition("[uncertainty]")
    bare = head + rest[rest.index("[readings]") :]
    # One run a lift, nothing stated: nothing is known of how sure it is.
    bare = re.sub(r"flow = .*", "flow = [[23.5], [47.8], [101.0], [140.5], [160.2], [164.0]]", bare)
    factories.create_session(db, visit)
    factories.create_session(db, visit, bare)
    (row,) = gains.by_engine_type(db, wide(db))
    assert (len(row.gains), row.uncertainties, row.usual_uncertainty) == (1, (), None)


def test_gains_are_credited_to_all_that_was_cut_between_the_tests(db: Session, by: Actor):
    machinist = factories.someone(db)
    kind = factories.create_engine_type(db)
    both, none = (factories.create_job(db, engine_type=kind).heads[0] for _ in range(2))
    for visit in (both, none):
        factories.create_session(db, visit, INTAKE_US)
        factories.approve(db, machinist, visit.job)
    steps = [factories.create_operation(db, both, code) for code in ("seat-cut", "port-work")]
    for step in steps:
        factories.agree(db, machinist, step)
        operations.start(db, machinist, step)
        operations.sign_off(db, machinist, step, {"not_measured_because": "as before"})
    for visit, after in ((both, steps[-1]), (none, None)):
        factories.create_session(db, visit, AFTER_US.replace("seat cut", ""), after=after)
    by_name = {row.work: len(row.gains) for row in gains.by_engine_type(db, wide(db))}
    names = " and ".join(step.kind.name for step in steps)
    assert by_name == {names: 1, "no metal cut between them": 1}
    over = gains.over_first(both.sessions[-1])
    assert over is not None
    assert over.cuts.work == names
    assert gains.over_first(both.sessions[0]) is None


def wide(db: Session) -> Period:
    """Long enough for whatever day a session file says."""
    return period(db, "2020-01-01", "2029-12-01")


def test_the_report_of_gains_asks_as_often_for_many_ports_as_for_few(db: Session, by: Actor):
    def tested_twice(count: int) -> int:
        """Statements of the report once so many more heads were tested twice."""
        for _ in range(count):
            visit = factories.create_visit(db)
            for text in (INTAKE_US, AFTER_US):
                factories.create_session(db, visit, text)
        db.commit()
        db.expire_all()
        seen: list[str] = []

        def note(*what: Any) -> None:
            seen.append(what[2])

        connection = db.connection()
        event.listen(connection, "before_cursor_execute", note)
        gains.by_engine_type(db, wide(db))
        event.remove(connection, "before_cursor_execute", note)
        return len(seen)

    assert tested_twice(2) == tested_twice(4)
