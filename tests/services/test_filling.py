"""Relations loaded in one statement each equal those that the records load themselves."""

from __future__ import annotations

import pytest
from sqlalchemy import inspect
from sqlalchemy.orm import Session, selectinload

from shopflow.models import Operation, Visit
from shopflow.services.eager_loading import Filling
from tests import factories

STEPS = Filling(Visit.operations)


@pytest.fixture
def visits(db: Session) -> list[Visit]:
    """Two heads with steps in another order than they were planned in, and one with none."""
    factories.create_shop(db)
    rows = [factories.create_visit(db) for _ in range(3)]
    for visit in rows[:2]:
        # All added before they are moved: adding one numbers the others anew.
        steps = [factories.create_operation(db, visit) for _ in range(3)]
        for step, position in zip(steps, (3, 1, 2), strict=True):
            step.position = position
    db.flush()
    db.expire_all()
    return rows


def test_what_hangs_on_each_is_found_in_its_order(db: Session, visits: list[Visit]):
    answer = STEPS.fill(db, visits)
    assert not any("operations" in inspect(visit).unloaded for visit in visits)
    filled = {visit.id: list(visit.operations) for visit in visits}
    assert sorted(step.id for step in answer) == sorted(
        step.id for steps in filled.values() for step in steps
    )
    assert [[step.position for step in steps] for steps in filled.values()] == [[1, 2, 3]] * 2 + [
        []
    ]
    # As SQLAlchemy's own loading has it.
    db.expire_all()
    query = db.query(Visit).options(selectinload(Visit.operations))
    assert {visit.id: list(visit.operations) for visit in query} == filled


def test_what_is_not_written_down_yet_is_found_too(db: Session, visits: list[Visit]):
    step = Operation(kind=visits[0].operations[0].kind, position=4)
    visits[2].operations.append(step)
    STEPS.fill(db, visits)
    assert visits[2].operations == [step]
    assert db.is_modified(visits[2]) is False


def test_of_no_records_nothing_is_asked(db: Session):
    assert STEPS.fill(db, []) == []
