"""Jobs: booked in at the counter, approved, moved, called off, and seen on the floor."""

from __future__ import annotations

from dataclasses import replace
from datetime import UTC, date, datetime, timedelta
from decimal import Decimal

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.errors import NotFoundError
from shopflow.models import Customer, Head, Job, JobState
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import payments
from shopflow.services.counter import booking
from shopflow.services.counter.booking import BookIn
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.registry import heads
from shopflow.services.routing import operations, work_plans
from tests import factories
from tests.services.expecting import assert_logged, faults_at, log_of, refused

NEW = BookIn(
    customer={"name": "Ostrava & Sons"},
    engine_type={"builder": "Hollin", "family": "K18", "cylinders": "4"},
    heads=[{"casting_number": "HC 4417", "serial": "B 1", "condition": "two bent valves"}],
    job={"asked_for": "More flow", "boost": "20 psi", "purpose": "drag",
         "promised_on": "2026-04-01", "intake_lift": "0.450 in", "rev_limit_rpm": "7200"},
    deposit={"amount": "250.10", "method": "card"},
)  # fmt: skip


def test_customer_engine_heads_and_job_are_booked_in_at_one_go(db: Session, machinist: Actor):
    factories.create_shop(db)
    job = booking.book_in(db, machinist, NEW)
    db.flush()
    db.expire_all()
    assert jobs.get(db, "2026-0001") is job
    assert (job.state, job.booked_in_at) == (JobState.BOOKED_IN, machinist.at)
    assert (job.customer.name, job.purpose, job.promised_on) == (
        "Ostrava & Sons",
        "drag",
        date(2026, 4, 1),
    )
    (deposit,) = payments.of_job(db, job)
    assert (str(deposit.amount), deposit.method, deposit.is_deposit) == ("250.10", "card", True)
    assert (deposit.received_on, deposit.recorded_by_id) == (date(2026, 3, 5), machinist.person_id)
    assert job.boost is not None
    assert job.intake_lift is not None
    assert (job.boost.text, job.intake_lift.text) == ("20 psi", "0.450 in")
    (visit,) = job.heads
    assert (visit.tag, visit.condition) == ("2026-0001-A", "two bent valves")
    assert visit.head.engine_type.title == "Hollin K18"
    assert heads.owner(visit.head) is job.customer
    assert jobs.visit(db, "2026-0001-A") is visit
    assert_logged(db, job, machinist, "booked in")
    assert_logged(db, visit, machinist, "taken in")


def test_several_heads_and_a_routing_go_on_one_job(db: Session, by: Actor):
    factories.create_shop(db)
    steps = [{"kind": "teardown", "price": "60"}, {"kind": "flow-test", "price": "80.25"}]
    routing = work_plans.save(db, by, "Flow only", "", steps)
    pair = [{"serial": "L"}, {"serial": "R"}]
    job = booking.book_in(db, by, replace(NEW, heads=pair, routing_id=routing.id))
    assert [visit.tag for visit in job.heads] == ["2026-0001-A", "2026-0001-B"]
    for visit in job.heads:
        assert [step.kind.code for step in visit.operations] == ["teardown", "flow-test"]
        assert visit.price == Decimal("140.25")
    assert job.price == Decimal("280.50")


def test_every_fault_of_the_form_comes_in_one_go_under_its_part(db: Session, by: Actor):
    factories.create_shop(db)
    form = BookIn(
        customer={"name": ""},
        engine_type={"builder": "Hollin", "family": "", "cylinders": "0"},
        heads=[{"serial": "fits"}, {"serial": "x" * 101, "colour": "red"}, {"condition": "\x00"}],
        job={"boost": "20", "rev_limit_rpm": "fast"},
        deposit={"amount": "12.345", "method": " "},
    )
    with faults_at(
        "customer-name", "engine_type-family", "engine_type-cylinders",
        "job-boost", "job-rev_limit_rpm", "deposit-amount", "deposit-method",
        "heads-1-serial", "heads-1-colour", "heads-2-condition",
    ):  # fmt: skip
        booking.book_in(db, by, form)
    assert db.scalar(select(func.count()).select_from(Job)) == 0


def test_a_refused_form_leaves_nothing_once_rolled_back(db: Session, by: Actor):
    factories.create_shop(db)
    db.commit()
    with faults_at("heads-0-serial"):
        booking.book_in(db, by, replace(NEW, heads=[{"serial": "x" * 101}]))
    db.rollback()
    for noun in (Customer, Job, Head):
        assert db.scalar(select(func.count()).select_from(noun)) == 0
    # The number that was not used is not lost.
    assert booking.book_in(db, by, NEW).number == "2026-0001"


@pytest.mark.parametrize("count", [0, booking.MOST_HEADS + 1])
def test_a_job_has_heads_and_not_too_many(db: Session, by: Actor, count: int):
    factories.create_shop(db)
    with faults_at("heads"):
        booking.book_in(db, by, replace(NEW, heads=[{}] * count))


def test_what_is_on_file_is_taken_by_its_key(db: Session, by: Actor):
    before = factories.create_visit(db)
    form = BookIn(
        customer_id=before.job.customer_id,
        heads=[{"head_id": str(before.head_id), "condition": "dropped seat"}],
    )
    job = booking.book_in(db, by, form)
    (visit,) = job.heads
    assert visit.head is before.head
    assert visit.head.serial == before.head.serial
    assert job.customer is before.job.customer
    for wrong in (
        replace(NEW, customer_id=4711),
        replace(NEW, engine_type_id=4711),
        replace(NEW, heads=[{"head_id": 4711}]),
    ):
        with pytest.raises(NotFoundError):
            booking.book_in(db, by, wrong)


def test_one_casting_is_on_a_job_once(db: Session, by: Actor):
    before = factories.create_visit(db)
    twice = [{"head_id": before.head_id}, {"head_id": before.head_id}]
    with faults_at("heads-1-serial"):
        booking.book_in(db, by, BookIn(customer_id=before.job.customer_id, heads=twice))


def test_it_needs_the_shop(db: Session, by: Actor):
    with refused("not been set up"):
        booking.book_in(db, by, NEW)


def test_numbers_run_by_the_years_of_the_shops_own_zone(db: Session):
    factories.create_shop(db, time_zone="America/Chicago")
    # 05:59 UTC on New Year's Day is 23:59 the evening before in Chicago.
    evening = Actor(None, datetime(2027, 1, 1, 5, 59, tzinfo=UTC))
    midnight = Actor(None, datetime(2027, 1, 1, 6, 0, tzinfo=UTC))
    numbers = [factories.create_job(db, by=who).number for who in (evening, midnight, midnight)]
    assert numbers == ["2026-0001", "2027-0001", "2027-0002"]


def test_what_is_not_there_is_not_found(db: Session):
    with pytest.raises(NotFoundError, match="no job 2026-0099"):
        jobs.get(db, "2026-0099")
    with pytest.raises(NotFoundError, match="label 2026-0099-A"):
        jobs.visit(db, "2026-0099-A")


def test_changes_are_checked_and_logged_on_the_job(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    job = visit.job
    jobs.change(db, machinist, job, {"promised_on": "2026-05-02", "boost": "1.2 bar"})
    assert_logged(
        db, job, machinist, "changed", promised_on=["", "2026-05-02"], boost=["", "1.2 bar"]
    )
    jobs.change_visit(db, machinist, visit, {"condition": "cracked"})
    assert_logged(db, visit, machinist, "changed", condition=["", "cracked"])
    assert {entry.subject for entry in audit_log.of_job(db, job)} == {"job", "job_head", "head"}
    with faults_at("promised_on", "boost", "priority"):
        jobs.change(db, machinist, job, {"promised_on": "soon", "boost": "-1 psi", "priority": -1})


def test_approval_says_who_how_and_when(db: Session, machinist: Actor):
    job = factories.create_operation(db).job_head.job
    with faults_at("approved_by", "approved_how"):
        factories.approve(db, machinist, job, " ", "")
    factories.approve(db, machinist, job, "Cal Pruitt", "telephone")
    assert (job.state, job.approved_at) == (JobState.APPROVED, machinist.at)
    assert_logged(
        db, job, machinist, "approved",
        approved_by=["", "Cal Pruitt"], approved_how=["", "telephone"],
        state=["booked in", "approved"],
    )  # fmt: skip


def test_nobody_approves_what_is_closed_nor_moves_to_approved_without_approval(
    db: Session, by: Actor
):
    job = factories.create_operation(db).job_head.job
    with refused("who approved"):
        jobs.move(db, by, job, JobState.APPROVED)
    jobs.cancel(db, by, job, "sold the car")
    with refused("is cancelled"):
        factories.approve(db, by, job, "Cal", "telephone")


def test_calling_off_needs_a_reason_and_deletes_nothing(db: Session, machinist: Actor):
    job = factories.create_job(db)
    with faults_at("cancel_reason"):
        jobs.cancel(db, machinist, job, " ")
    with refused("needs a reason"):
        jobs.move(db, machinist, job, JobState.CANCELLED)
    jobs.cancel(db, machinist, job, "sold the car")
    assert (job.state, job.closed_at, job.is_open) == (JobState.CANCELLED, machinist.at, False)
    assert_logged(db, job, machinist, "cancelled", cancel_reason=["", "sold the car"])
    assert len(job.heads) == 1
    with refused("cancelled already"):
        jobs.cancel(db, machinist, job, "again")


def test_heads_leave_only_with_their_work_done(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit)
    factories.approve(db, machinist, visit.job, "Cal", "telephone")
    with refused(f"{visit.tag} still has open steps"):
        jobs.move(db, machinist, visit.job, JobState.READY)
    operations.sign_off(db, machinist, step, {})
    jobs.move(db, machinist, visit.job, JobState.READY)
    assert visit.job.closed_at is None
    jobs.move(db, machinist, visit.job, JobState.COLLECTED)
    assert visit.job.closed_at == machinist.at
    assert_logged(db, visit.job, machinist, "moved", state=["ready", "collected"])
    jobs.move(db, machinist, visit.job, JobState.READY)
    assert visit.job.closed_at is None


def test_a_head_nothing_was_done_on_leaves_with_a_reason(db: Session, machinist: Actor):
    job = factories.create_job(db, head_count=2)
    left, right = job.heads
    step = factories.create_operation(db, left)
    factories.approve(db, machinist, job, "Cal", "telephone")
    operations.sign_off(db, machinist, step, {})
    assert jobs.untouched(job) == [right]
    with faults_at("untouched_because"):
        jobs.move(db, machinist, job, JobState.READY)
    jobs.move(db, machinist, job, JobState.READY, untouched_because=" cracked, sent home ")
    assert (left.untouched_because, right.untouched_because) == ("", "cracked, sent home")
    assert_logged(
        db, right, machinist, "left untouched", untouched_because=["", "cracked, sent home"]
    )
    # The reason stands: it is not asked for again when the job leaves.
    jobs.move(db, machinist, job, JobState.COLLECTED)
    assert job.state is JobState.COLLECTED


def test_a_measurement_or_a_test_is_work_on_a_head(db: Session, machinist: Actor):
    job = factories.create_job(db, head_count=3)
    measured, tested, bare = job.heads
    kind = measurements.kind_by_code(db, "deck flatness")
    measurements.record(db, machinist, measured, kind.id, {"value": "0.03 mm"})
    factories.create_session(db, tested)
    assert jobs.untouched(job) == [bare]


def test_recent_jobs_come_latest_first_open_and_closed_apart(db: Session, by: Actor):
    rows = [
        factories.create_job(db, by=Actor(None, by.at + timedelta(days=day))) for day in range(4)
    ]
    jobs.cancel(db, by, rows[1], "sold")
    assert jobs.recent(db) == rows[::-1]
    assert jobs.recent(db, 2, skip=1) == [rows[2], rows[1]]
    assert jobs.recent(db, is_open=True) == [rows[3], rows[2], rows[0]]
    assert jobs.recent(db, is_open=False) == [rows[1]]


def test_where_a_head_stands_is_said_in_the_shops_words(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    job = visit.job
    step = factories.create_operation(db, visit, "seat-cut")
    rows = [jobs.where_it_stands(visit)]
    with refused("by sending its quote"):
        jobs.move(db, machinist, job, JobState.QUOTED)
    issuing.give_quote(db, machinist, job, {})
    rows.append(jobs.where_it_stands(visit))
    factories.approve(db, machinist, job, "Cal", "telephone")
    rows.append(jobs.where_it_stands(visit))
    operations.start(db, machinist, step)
    rows.append(jobs.where_it_stands(visit))
    operations.pause(db, machinist, step)
    rows.append(jobs.where_it_stands(visit))
    operations.sign_off(db, machinist, step, {"not_measured_because": "gauge is out"})
    rows.append(jobs.where_it_stands(visit))
    jobs.move(db, machinist, job, JobState.READY)
    rows.append(jobs.where_it_stands(visit))
    assert rows == [
        "to be quoted", "waiting for approval", "next: Cut seats", "in progress: Cut seats",
        "started: Cut seats", "all work done", "ready",
    ]  # fmt: skip
    assert log_of(db, job)[-1].changes["state"] == ["in work", "ready"]
