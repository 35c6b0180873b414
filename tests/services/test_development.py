"""Development: tests of a casting that nobody booked in, on no floor, and moved to a job later."""

from __future__ import annotations

from datetime import date
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours
from shopflow.models import HeadStatus, JobState, Visit
from shopflow.services import withdrawals
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions, test_drafts, testable_heads
from shopflow.services.billing import approvals
from shopflow.services.counter import booking, development
from shopflow.services.jobs import jobs
from shopflow.services.planning import floor, questions, reports
from shopflow.services.registry import casting_status, heads
from shopflow.services.routing import operations
from shopflow.services.shop.periods import Period
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI
from tests.services.expecting import last_entry, refused

WEEK = OpenHours((480,) * 7)


@pytest.fixture
def visit(db: Session, machinist: Actor) -> Visit:
    """A casting without an owner, in development."""
    factories.create_shop(db)
    engine_type = factories.create_engine_type(db)
    return development.begin_new(db, machinist, engine_type, {"serial": "mule 1"})


def spare(db: Session, machinist: Actor):
    values = {"serial": "S 900"}
    return casting_status.add_spare(db, machinist, factories.create_engine_type(db), values, "")


def test_it_needs_no_customer_and_no_number_on_the_casting(db: Session, machinist: Actor):
    factories.create_shop(db)
    visit = development.begin_new(db, machinist, factories.create_engine_type(db), {})
    assert (visit.job.state, visit.job.customer.name) == (
        JobState.DEVELOPMENT,
        "Falling Water Heads",
    )
    assert heads.owner(visit.head) is None
    assert last_entry(db, visit.job).verb == "begun"


def test_a_casting_has_one_development_at_a_time(db: Session, machinist: Actor):
    factories.create_shop(db)
    head = spare(db, machinist)
    visit = development.begin(db, machinist, head)
    assert development.begin(db, machinist, head) is visit
    assert head.status is HeadStatus.SPARE
    development.end(db, machinist, visit)
    assert development.standing(db) == []
    again = development.begin(db, machinist, head)
    assert again is not visit
    assert again.job.customer is visit.job.customer


def test_a_casting_that_is_gone_is_not_developed(db: Session, machinist: Actor, visit: Visit):
    casting_status.set_status(db, machinist, visit.head, "scrapped", "cracked")
    assert development.standing(db) == []
    with refused("scrapped: choose another one"):
        development.begin(db, machinist, visit.head)


def test_it_stands_on_no_floor_and_in_no_report(db: Session, machinist: Actor, visit: Visit):
    step = factories.create_operation(db, visit, "seat-cut")
    step.found = True
    factories.create_session(db, visit)
    db.flush()
    assert floor.rows(db, WEEK, date(2030, 1, 1)) == []
    assert testable_heads.heads(db) == []
    assert jobs.recent(db, is_open=True) == []
    assert questions.open_questions(db) == []
    assert casting_status.open_job(db, visit.head) is None
    assert approvals.waiting(db, visit.job) == []
    operations.start(db, machinist, step)
    operations.sign_off(db, machinist, step, {"not_measured_because": "trial"})
    assert visit.job.state is JobState.DEVELOPMENT
    period = Period(date(2026, 3, 1), date(2026, 3, 31), ZoneInfo("UTC"))
    assert [month.booked_in for month in reports.jobs_by_month(db, period)] == [0]


def test_it_ends_once_and_is_not_cancelled(db: Session, machinist: Actor, visit: Visit):
    with refused("is development already"):
        jobs.cancel(db, machinist, visit.job, "no")
    development.end(db, machinist, visit)
    assert not visit.job.is_open
    with refused("is not in development"):
        development.end(db, machinist, visit)
    with refused("is not in development"):
        development.end(db, machinist, factories.create_visit(db))


def on_a_job(db: Session, visit: Visit, *, same_head: bool = True) -> Visit:
    """A customer's job with this casting, or another of its engine type."""
    if not same_head:
        return factories.create_visit(db, engine_type=visit.head.engine_type)
    form = booking.BookIn(
        heads=[{"head_id": str(visit.head_id)}],
        customer_id=factories.create_customer(db).id,
        engine_type_id=visit.head.engine_type_id,
    )
    return booking.book_in(db, factories.BY, form).heads[0]


@pytest.mark.parametrize("same_head", [True, False], ids=["the casting itself", "another record"])
def test_its_tests_move_to_a_job(db: Session, machinist: Actor, visit: Visit, same_head: bool):
    first, second = (factories.create_session(db, visit, text) for text in (AFTER_US, EXHAUST_SI))
    withdrawals.withdraw(db, machinist, first, "wrong head")
    to = on_a_job(db, visit, same_head=same_head)
    already = factories.create_session(db, to)
    readings = sessions.document(second)
    assert development.offered_for(db, visit)[0] is to
    development.move_tests(db, machinist, visit, to)
    assert set(to.sessions) == {already, second}
    assert to.withdrawn_sessions == [first]
    assert visit.sessions == visit.withdrawn_sessions == []
    assert sessions.document(second) == readings
    assert len({row.position for row in to.sessions}) == 2
    assert last_entry(db, second).note == f"from {visit.tag}"
    assert development.standing(db) == []


def test_tests_move_only_where_they_may(db: Session, machinist: Actor, visit: Visit):
    row = factories.create_session(db, visit)
    with refused("of this engine type on an open job"):
        development.move_tests(db, machinist, visit, factories.create_visit(db))
    to = on_a_job(db, visit)
    key = test_drafts.new_key()
    test_drafts.keep(db, machinist, visit, key=key, writer="w", seen=0, typed={"side": "intake"})
    with refused("is being taken"):
        development.move_tests(db, machinist, visit, to)
    test_drafts.discard(db, machinist, visit)
    factories.issue_certificate(db, machinist, [row])
    with refused("states tests of this head"):
        development.move_tests(db, machinist, visit, to)
    assert visit.sessions == [row]
