"""The practice job: worked on like any other, discarded whole; and the first days' checklist."""

from __future__ import annotations

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import Event, Shop
from shopflow.models.base import Base
from shopflow.models.job import PRACTICE_NUMBER
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals, payments, quotes
from shopflow.services.counter import practice
from shopflow.services.measuring import measurements
from shopflow.services.planning import act_facts, next_act
from shopflow.services.planning.next_act import Verb
from shopflow.services.registry import customers, engine_types
from shopflow.services.routing import holds, operations
from shopflow.services.shop import first_days
from shopflow.services.shop.built_in_kinds import figures_by_code
from shopflow.services.shop.first_days import Task
from tests import factories
from tests.factories import BY
from tests.optional import present


@pytest.fixture(autouse=True)
def shop(db: Session) -> Shop:
    """The shop, set up with its kinds of step."""
    return factories.shop_or_none(db)


def counts(db: Session) -> dict[str, int]:
    """Rows of every table but the log, the counters and the stamps."""
    db.flush()
    apart = {"event", "counter", "name_stamp"}
    return {
        table.name: db.scalar(select(func.count()).select_from(table)) or 0
        for table in Base.metadata.sorted_tables
        if table.name not in apart
    }


def work(db: Session, machinist: Actor) -> None:
    """A practice job worked on: approved, started, measured, signed off, held, tested."""
    job = practice.begin(db, BY)
    visit = job.heads[0]
    approvals.record(db, BY, job, "Me", "in person")
    step = visit.operations[0]
    operations.start(db, machinist, step)
    kind = figures_by_code(db)["deck flatness"]
    values = {"value": "0.001 in", "when": "before"}
    measurements.record(db, machinist, visit, kind.id, values, operation=step)
    operations.sign_off(db, machinist, step, {"not_measured_because": "practice"})
    holds.begin(db, BY, visit, {"wait_for": "parts", "what": "valves", "since": "2026-03-01"})
    factories.create_session(db, visit)


def test_a_practice_job_is_discarded_whole_and_nothing_else_is(db, machinist):
    real = factories.create_job(db)
    factories.create_operation(db, real.heads[0], price="60")
    factories.approve(db, BY, real)
    before, names = counts(db), len(customers.list_all(db))
    work(db, machinist)
    assert counts(db) != before
    practice.discard(db, BY, present(practice.find(db)))
    assert counts(db) == before
    assert practice.find(db) is None
    assert len(customers.list_all(db)) == names
    assert engine_types.look_up(db, "Practice four-cylinder") == []
    assert db.scalars(select(Event).where(Event.note.contains(PRACTICE_NUMBER))).all() == []
    assert practice.begin(db, BY).number == PRACTICE_NUMBER


def test_nothing_with_a_number_is_issued_on_it(db):
    job = practice.begin(db, BY)
    with pytest.raises(RuleError, match="is for practice"):
        quotes.offer(db, BY, job, {})
    with pytest.raises(RuleError, match="is for practice"):
        payments.record(db, BY, job, {"amount": "1", "method": "cash"})
    with pytest.raises(RuleError, match="already"):
        practice.begin(db, BY)
    facts = act_facts.of_job(db, job)
    (acts,) = (next_act.of_head(row) for row in facts.values())
    assert acts[0].verb is Verb.RECORD_APPROVAL


def test_a_real_job_is_never_discarded(db):
    job = factories.create_job(db)
    with pytest.raises(RuleError, match="real work"):
        practice.discard(db, BY, job)


def test_a_practice_customer_on_a_real_job_is_kept(db):
    job = practice.begin(db, BY)
    factories.create_job(db, job.customer)
    with pytest.raises(RuleError, match="in use on another job"):
        practice.discard(db, BY, job)


def done(db):
    db.flush()
    return {row.task for row in first_days.of_shop(db, backed_up=False) if row.is_done}


def test_the_checklist_follows_the_records(db):
    before = done(db)
    assert Task.UNITS in before
    practice.begin(db, BY)
    assert done(db) == before
    factories.create_bench(db)
    factories.create_job(db)
    factories.create_person(db, login="second")
    factories.create_person(db, login="third")
    more = done(db)
    assert more >= {Task.BENCH, Task.ENGINE, Task.HEAD, Task.PEOPLE}
    assert Task.BACKUP not in more
