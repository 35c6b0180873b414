"""A database made by each earlier release, and filled there, comes up to this one whole."""

from __future__ import annotations

from collections.abc import Callable, Iterator
from contextlib import AbstractContextManager, contextmanager
from pathlib import Path

import pytest
from sqlalchemy import Engine, MetaData, insert, select

from shopflow.database import downgrade, open_engine, session_factory, upgrade
from shopflow.models import TestDraft, Visit
from tests import factories
from tests.demo_shop import DemoShop
from tests.migrations.test_migrations import (
    assert_kept,
    columns,
    constraints,
    content,
    copy_rows,
    is_the_shops,
    revisions,
    take_out_pressures,
)
from tests.postgres import Server

pytestmark = pytest.mark.slow

Nothing = Callable[[], AbstractContextManager[Engine]]


@contextmanager
def opened(url: str) -> Iterator[Engine]:
    """An engine for as long as the block lasts."""
    engine = open_engine(url)
    try:
        yield engine
    finally:
        engine.dispose()


@pytest.fixture(params=["sqlite", pytest.param("postgresql", marks=pytest.mark.long)])
def nothing(request: pytest.FixtureRequest, tmp_path: Path) -> Nothing:
    """A maker of databases without any table."""
    counted = iter(range(100))

    @contextmanager
    def make() -> Iterator[Engine]:
        if request.param == "sqlite":
            with opened(f"sqlite:///{tmp_path / f'{next(counted)}.db'}") as engine:
                yield engine
            return
        postgres: Server = request.getfixturevalue("postgres")
        with postgres.database("template0") as url, opened(url) as engine:
            yield engine

    return make


def fill(engine: Engine, demo_shop: DemoShop) -> None:
    """The invented shop, with what it lacks: a test being taken."""
    with (
        opened(f"sqlite:///{demo_shop.folder / 'shopflow.db'}") as demo,
        demo.connect() as source,
        engine.begin() as target,
    ):
        copy_rows(source, target)
    take_out_pressures(engine)
    with session_factory(engine).begin() as db:
        visit = db.scalars(select(Visit).limit(1)).one()
        db.add(TestDraft(job_head_id=visit.id, key="k", writer="w", count=3, typed={"rows-0": "1"},
                        begun_at=factories.NOW, kept_at=factories.NOW))  # fmt: skip


def copy_as_it_is(source: Engine, target: Engine) -> None:
    """Every row, by the tables that the databases have, whatever this version knows of them."""
    meta_data = MetaData()
    meta_data.reflect(source)
    with source.connect() as reading, target.begin() as writing:
        for table in filter(lambda table: is_the_shops(table.name), meta_data.sorted_tables):
            rows = reading.execute(select(table).order_by(*table.primary_key)).mappings().all()
            if rows:
                writing.execute(insert(table), [dict(row) for row in rows])


@pytest.mark.parametrize("step", [5, pytest.param(1, marks=pytest.mark.long)])
def test_a_database_of_every_earlier_revision_comes_up_whole(
    nothing: Nothing, demo_shop: DemoShop, step: int
):
    """Of every fifth in the suite, and of each in the long run."""
    with nothing() as full:
        upgrade(full)
        fill(full, demo_shop)
        newest, schema = content(full), constraints(full)
        assert all(newest[name].rows for name in ("open_test", "job_file", "customer_link"))
        for revision in revisions()[1::step]:
            downgrade(full, revision.revision)
            there = columns(full)
            with nothing() as old:
                upgrade(old, revision.revision)
                copy_as_it_is(full, old)
                upgrade(old)
                assert_kept(newest, content(old), there, revision.revision)
                assert constraints(old) == schema, revision.revision
