"""Saving through the session that appends to the record log, against the same without the log."""

from __future__ import annotations

import itertools
import random
from collections.abc import Callable, Iterator

from sqlalchemy import func, select
from sqlalchemy.orm import Session, sessionmaker

from shopflow import testfile
from shopflow.database import open_engine, session_factory
from shopflow.models import Customer, Visit
from shopflow.services.bench import sessions, test_drafts
from shopflow.services.registry import customers
from tests import factories
from tests.benchmarks.measuring import Bench, Row, in_turns
from tests.cli.sessions import INTAKE_US

Factory = Callable[[], Session]
LIMIT = "the same without the log"


def measure(bench: Bench) -> Iterator[Row]:
    """A flow test, one value of a draft and one change of a customer, each committed."""
    engine = open_engine(bench.large)
    logged: Factory = session_factory(engine)
    plain: Factory = sessionmaker(engine, expire_on_commit=False)
    acts = {
        "saving a flow test, in the record log": (_save_test, 1.3),
        "saving a value of a draft, which is not logged": (_save_value, 1.2),
        "changing a customer, in the record log": (_change, 1.5),
    }
    for words, (act, goal) in acts.items():
        counted = itertools.count()
        mine, bare = in_turns(
            bench.rounds * 40,
            lambda act=act, counted=counted: act(logged, next(counted)),  # type: ignore[misc]
            lambda act=act, counted=counted: act(plain, next(counted)),  # type: ignore[misc]
            clock=bench.clock,
        )
        yield Row(words, LIMIT, mine, bare, goal)
    engine.dispose()


def _save_test(factory: Factory, number: int) -> None:
    with factory() as db:
        # By chance, so that neither is dealt the heads with more tests.
        last = db.scalar(select(func.max(Visit.id))) or 1
        visit = db.get_one(Visit, random.Random(number).randint(1, last))
        sessions.store(db, factories.BY, visit, testfile.loads(INTAKE_US))
        db.commit()


def _save_value(factory: Factory, number: int) -> None:
    with factory() as db:
        visit = db.get_one(Visit, 1)
        typed = {"rows-0-lift": "1.0", "rows-0-first": str(number)}
        test_drafts.keep(
            db, factories.BY, visit, key="f" * 32, writer="one", seen=number, typed=typed
        )
        db.commit()


def _change(factory: Factory, number: int) -> None:
    with factory() as db:
        row = db.scalars(select(Customer).limit(1)).one()
        customers.change(db, factories.BY, row, {"notes": f"note {number}"})
        db.commit()
