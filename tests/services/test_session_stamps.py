"""Caches of past tests are renewed once any of the tests changes, whoever changed it."""

from __future__ import annotations

from collections.abc import Callable

import pytest
from sqlalchemy import Connection, Engine, delete, func, insert, select, text, update
from sqlalchemy.orm import Session

from shopflow.database import open_engine, session_factory
from shopflow.models import (
    BenchSession,
    EngineType,
    Head,
    OperationKind,
    Reading,
    SessionLift,
    Visit,
)
from shopflow.services.bench import bands, cache, reference_curves, sessions, test_results
from tests import factories
from tests.optional import present


@pytest.fixture
def engine_type_keys(engine: Engine) -> tuple[int, int]:
    """Two engine types: one with three tests on file, one with one."""
    with session_factory(engine).begin() as db:
        kinds = [factories.create_engine_type(db, family=name) for name in ("K20", "K24")]
        for kind in (*kinds, kinds[0], kinds[0]):
            factories.create_session(db, factories.create_visit(db, engine_type=kind))
        return kinds[0].id, kinds[1].id


def band(db: Session, key: int) -> bands.Band:
    """The band of an engine type."""
    return bands.band_for(db, db.get_one(EngineType, key), "intake")


def first(
    connection: Connection, model: type[BenchSession | Head | Reading | SessionLift | Visit]
) -> int:
    """Key of a table's first row."""
    return connection.scalar(select(func.min(model.id))) or 0


def a_test_more(connection: Connection) -> None:
    """The first test once more, past the ORM, its lifts left out."""
    table = BenchSession.metadata.tables[BenchSession.__tablename__]
    row = connection.execute(select(table).limit(1)).mappings().one()
    connection.execute(insert(table), {**row, "id": 9001})


def delete_first_test(connection: Connection) -> None:
    """The first test with all its readings, past the ORM."""
    key = first(connection, BenchSession)
    lifts = select(SessionLift.id).where(SessionLift.session_id == key)
    connection.execute(delete(Reading).where(Reading.session_lift_id.in_(lifts)))
    connection.execute(delete(SessionLift).where(SessionLift.session_id == key))
    connection.execute(delete(BenchSession).where(BenchSession.id == key))


CHANGES: dict[str, Callable[[Connection], object]] = {
    "a test more": a_test_more,
    "a test less": delete_first_test,
    "a test's valve": lambda at: at.execute(
        text("UPDATE bench_session SET head_diameter_si = 0.03 WHERE id = :key"),
        {"key": first(at, BenchSession)},
    ),
    "a lift": lambda at: at.execute(
        update(SessionLift).where(SessionLift.id == first(at, SessionLift)).values(lift_si=0.0011)
    ),
    "a lift less": lambda at: (
        at.execute(delete(Reading).where(Reading.session_lift_id == first(at, SessionLift))),
        at.execute(delete(SessionLift).where(SessionLift.id == first(at, SessionLift))),
    ),
    "a reading": lambda at: at.execute(
        update(Reading).where(Reading.id == first(at, Reading)).values(flow_si=0.02)
    ),
    "a reading less": lambda at: at.execute(
        delete(Reading).where(Reading.id == first(at, Reading))
    ),
    "what a head is called by": lambda at: at.execute(
        update(Visit).where(Visit.id == first(at, Visit)).values(tag="another")
    ),
    "what a kind of work is called": lambda at: at.execute(
        update(OperationKind).values(name=OperationKind.name + " anew")
    ),
}


@pytest.mark.parametrize("what", CHANGES)
def test_the_mark_is_another_once_anything_changed(engine: Engine, engine_type_keys, what: str):
    with session_factory(engine)() as db:
        before = cache.stamp(db, (engine_type_keys[0],))
    with engine.begin() as connection:
        CHANGES[what](connection)
    with session_factory(engine)() as db:
        after = cache.stamp(db, (engine_type_keys[0],))
    assert before
    assert after
    assert after != before


def test_only_the_engine_type_of_the_test_is_marked(engine: Engine, engine_type_keys):
    with session_factory(engine)() as db:
        before = cache.stamp(db, (engine_type_keys[1],))
    with engine.begin() as connection:
        CHANGES["a reading"](connection)
    with session_factory(engine)() as db:
        assert cache.stamp(db, (engine_type_keys[1],)) == before


def test_a_head_found_to_be_of_another_engine_type_takes_its_tests_along(
    engine: Engine, engine_type_keys
):
    with session_factory(engine)() as db:
        assert [band(db, key).heads for key in engine_type_keys] == [3, 1]
    with engine.begin() as connection:
        moved = Head.id == first(connection, Head)
        connection.execute(update(Head).where(moved).values(engine_type_id=engine_type_keys[1]))
    with session_factory(engine)() as db:
        assert [band(db, key).heads for key in engine_type_keys] == [2, 2]


def test_a_stay_found_to_be_of_another_head_takes_its_tests_along(engine: Engine, engine_type_keys):
    with session_factory(engine)() as db:
        assert [band(db, key).heads for key in engine_type_keys] == [3, 1]
    with engine.begin() as connection:
        theirs = select(Head.id).where(Head.engine_type_id == engine_type_keys[1]).scalar_subquery()
        moved = Visit.id == first(connection, Visit)
        connection.execute(update(Visit).where(moved).values(head_id=theirs))
    with session_factory(engine)() as db:
        assert [band(db, key).heads for key in engine_type_keys] == [2, 1]


def test_a_band_kept_at_hand_is_made_anew_once_another_process_changed_a_reading(
    engine: Engine, engine_type_keys, by
):
    with session_factory(engine)() as db:
        created = band(db, engine_type_keys[0])
        assert band(db, engine_type_keys[0]) is created
    other = open_engine(engine.url.render_as_string(hide_password=False))
    with session_factory(other).begin() as db:
        row = present(db.scalars(select(BenchSession).order_by(BenchSession.id)).first())
        sessions.exclude(db, by, row.lifts[0].readings[0], "stuck ball")
    other.dispose()
    with session_factory(engine)() as db:
        anew = band(db, engine_type_keys[0])
        assert anew != created
        assert band(db, engine_type_keys[0]) is anew
    with session_factory(engine)() as db:
        kind = db.get_one(EngineType, engine_type_keys[0])
        factories.create_session(db, factories.create_visit(db, engine_type=kind))
        # In the midst of it too, and what was made then is not held for what is on file.
        assert band(db, engine_type_keys[0]).heads == 4
        factories.create_session(db, factories.create_visit(db, engine_type=kind))
        assert band(db, engine_type_keys[0]).heads == 5
    with session_factory(engine)() as db:
        assert band(db, engine_type_keys[0]).heads == 3


def test_a_curve_to_be_drawn_over_is_kept_until_another_process_changed_it(
    engine: Engine, engine_type_keys, by
):
    with session_factory(engine)() as db:
        row = present(db.scalars(select(BenchSession).order_by(BenchSession.id)).first())
        visit, key, side = row.job_head, str(row.id), row.side
        created = reference_curves.chosen(db, visit, key, side)
        assert created == test_results.session_curve(row)
        assert reference_curves.chosen(db, visit, "", side) is created
    other = open_engine(engine.url.render_as_string(hide_password=False))
    with other.begin() as connection:
        changed = Reading.id == first(connection, Reading)
        connection.execute(update(Reading).where(changed).values(flow_typed="44.1"))
        connection.execute(update(BenchSession).values(stage="ported"))
    other.dispose()
    with session_factory(engine)() as db:
        row = db.get_one(BenchSession, int(key))
        anew = reference_curves.chosen(db, row.job_head, key, side)
        assert anew == test_results.session_curve(row)
        assert anew.name.startswith("ported")
        assert anew.points != created.points
