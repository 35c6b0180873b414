"""While a file is read and checked others write; what they changed is not overlooked."""

from __future__ import annotations

from concurrent.futures import ThreadPoolExecutor, wait

import pytest
from sqlalchemy import Engine, func, select

from shopflow.database import READ_ONLY, session_factory
from shopflow.errors import RuleError
from shopflow.models import Customer
from shopflow.services.imports import kinds
from shopflow.services.imports.flows import Air
from shopflow.services.imports.planning import Plan
from shopflow.services.imports.reading import Writing
from shopflow.services.registry import customers, heads
from tests import factories
from tests.services.imports.files import AIR, csv_of, past_jobs


def planned(db, rows) -> Plan:
    db.connection(execution_options=READ_ONLY)
    plan = kinds.plan(db, kinds.get("results"), csv_of(rows), Writing(), Air(**AIR))
    assert not plan.faults
    return plan


def test_others_write_while_a_file_is_read(engine: Engine):
    rows = past_jobs(2)
    with session_factory(engine).begin() as db:
        factories.shop_or_none(db)
    with session_factory(engine)() as db:
        plan = planned(db, rows)
        with session_factory(engine).begin() as other:
            # Nothing that the plan rests on.
            factories.create_person(other)
        db.commit()
        plan.carry_out(db, factories.BY)
        db.commit()
    with session_factory(engine)() as db:
        assert planned(db, rows).changes_nothing


@pytest.mark.parametrize("change", ["added", "renamed", "sold"])
def test_what_others_changed_meanwhile_is_found(engine: Engine, change: str):
    with session_factory(engine).begin() as db:
        factories.shop_or_none(db)
        first, second = (factories.create_customer(db) for _ in range(2))
        head = factories.create_head(db, owner=first)
    with session_factory(engine)() as db:
        plan = planned(db, past_jobs(2))
        with session_factory(engine).begin() as other:
            if change == "added":
                factories.create_customer(other)
            elif change == "renamed":
                customers.change(other, factories.BY, other.merge(first), {"name": "Bo Finch"})
            else:
                buyer = other.merge(second)
                heads.pass_to(other, factories.BY, other.merge(head), buyer)
        db.commit()
        with pytest.raises(RuleError, match="have changed since you chose the file"):
            plan.carry_out(db, factories.BY)


def test_of_two_who_bring_in_the_same_file_one_is_told_to_look_again(engine: Engine):
    content = csv_of([{"name": "Orla Finch"}, {"name": "Bo Finch"}])
    with session_factory(engine).begin() as db:
        factories.shop_or_none(db)
        plan = kinds.plan(db, kinds.get("customers"), content, Writing(), Air())
    with session_factory(engine)() as first, ThreadPoolExecutor() as pool:
        plan.carry_out(first, factories.BY)
        late = pool.submit(carried_out, engine, plan)
        # So long that it waits for the first, where it asks at all.
        wait([late], timeout=1)
        first.commit()
        with pytest.raises(RuleError, match="have changed since you chose the file"):
            late.result()
    with session_factory(engine)() as db:
        assert db.scalar(select(func.count(Customer.id))) == 2


def carried_out(engine: Engine, plan: Plan) -> None:
    with session_factory(engine).begin() as db:
        plan.carry_out(db, factories.BY)
