"""Indexes of names are never older than their records."""

from __future__ import annotations

from sqlalchemy import select, true
from sqlalchemy.orm import Session

from shopflow.models import LookupText, NameStamp
from shopflow.models.lookup_text import renew
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.jobs import jobs
from shopflow.services.matching import name_index
from shopflow.services.registry import customers, engine_types, heads
from shopflow.services.routing import operations
from tests import factories
from tests.cli.sessions import INTAKE_US


def search_rows(db: Session) -> list[tuple[object, ...]]:
    """Every row that is looked up by."""
    columns = LookupText.__table__.c
    return [tuple(row) for row in db.execute(select(*columns).order_by(columns.job_head_id))]


def is_true(db: Session) -> bool:
    """True where the rows are those that would be built now."""
    db.flush()
    answer = search_rows(db)
    renew(db.connection(), true())
    return answer == search_rows(db)


def test_every_verb_leaves_the_rows_true(db: Session, by: Actor, machinist: Actor) -> None:
    job = factories.create_job(db, head_count=2, notes="Shelf Ö")
    visit = job.heads[0]
    factories.approve(db, by, job, "the customer", "by telephone")
    step = factories.create_operation(db, visit)
    assert is_true(db)
    assert len(search_rows(db)) == 2
    jobs.change(db, by, job, {"asked_for": "Quiet at idle", "notes": "Señor's"})
    jobs.change_visit(db, by, visit, {"condition": "corroded"})
    heads.change(db, by, visit.head, {"serial": "B-1/2", "notes": "welded once"})
    operations.sign_off(db, machinist, step, {"notes": "Divider thinned"})
    session = factories.create_session(db, visit, INTAKE_US.replace(
        'stage = "as received"', 'stage = "as received"\nnotes = "Clay radius"'))  # fmt: skip
    assert is_true(db)
    (first, _) = search_rows(db)
    assert "senor's" in str(first)
    assert "clay radius" in str(first)
    assert "divider thinned" in str(first)
    assert "b12" in str(first)
    sessions.exclude(db, by, session.lifts[0].readings[0], "slipped")
    db.delete(factories.create_operation(db, visit))
    assert is_true(db)


def test_a_row_goes_with_its_stay(db: Session) -> None:
    visit = factories.create_visit(db)
    db.flush()
    assert search_rows(db)
    db.delete(visit)
    db.flush()
    assert not search_rows(db)


def stamps(db: Session) -> dict[str, str]:
    """The marks of the names on file."""
    rows = db.execute(select(NameStamp.of, NameStamp.stamp))
    return {row.of: row.stamp for row in rows}


def test_a_changed_name_is_known_at_once_and_nothing_is_read_for_another_change(
    db: Session, by: Actor
) -> None:
    engine_type = factories.create_engine_type(
        db, builder="Hollin", family="Ironside", aliases="wedge"
    )
    customer = factories.create_customer(db, name="Dorrit Brackwater")
    assert [match.key for match in engine_types.matches(db, "wedge")] == [engine_type.id]
    assert name_index.customers(db).called("Brackwater") == {customer.id: "Dorrit Brackwater"}
    engine_types.change(db, by, engine_type, {"aliases": "flathead"})
    customers.change(db, by, customer, {"name": "Dorrit Thornbury"})
    assert engine_types.matches(db, "wedge") == []
    assert [match.key for match in engine_types.matches(db, "flathead")] == [engine_type.id]
    assert name_index.customers(db).called("Brackwater") == {}
    before = stamps(db)
    names = name_index.customers(db)
    factories.create_job(db, customer, engine_type)
    assert stamps(db) == before
    assert name_index.customers(db) is names


def test_names_taken_back_are_not_kept(db: Session) -> None:
    factories.create_customer(db, name="Dorrit Brackwater")
    db.flush()
    with db.begin_nested() as tried:
        factories.create_customer(db, name="Halvard Ravenhill")
        db.flush()
        assert name_index.customers(db).called("Ravenhill")
        tried.rollback()
    assert not name_index.customers(db).called("Ravenhill")
    assert name_index.customers(db).called("Brackwater")
