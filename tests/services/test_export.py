"""Taking everything out: read back by Python's own readers and compared with the tables."""

from __future__ import annotations

import csv
import io
import json
import tracemalloc
import zipfile
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from sqlalchemy import Engine, Table, func, insert, select
from sqlalchemy.orm import Session

from shopflow.database import READ_ONLY, session_factory
from shopflow.models import Base, Customer, User
from shopflow.services.billing import payments
from shopflow.services.export import archive, shop_json
from shopflow.services.export.columns import MADE_OF_OTHERS, SECRET, TABLES, columns_of, file_name
from shopflow.services.export.rows import freeze, schema_version
from shopflow.services.registry import customer_links
from tests import factories

AT = datetime(2026, 3, 5, 15, 30, tzinfo=UTC)
ALL = [table for table in Base.metadata.sorted_tables if table.name not in MADE_OF_OTHERS]


@pytest.fixture
def shop_db(db: Session) -> Session:
    """A shop with something in many of its tables."""
    factories.create_shop(db, web_address="https://shop.example")
    job = factories.create_job(db)
    factories.create_session(db, job.heads[0])
    factories.create_person(db)
    factories.create_mailbox(db)
    customer_links.make(db, factories.BY, job, 30, shows_prices=False)
    factories.create_customer(db, name="=1+1", notes='He said "no",\nthen left')
    for amount in ("50", "-50"):
        payments.record(
            db, factories.BY, job, {"amount": amount, "method": "cash", "is_deposit": True}
        )
    db.flush()
    return db


def joined(chunks: Iterator[bytes]) -> bytes:
    return b"".join(chunks)


@pytest.mark.parametrize("table", ALL, ids=lambda table: table.name)
def test_every_column_is_exported_or_secret(table: Table):
    secret = {column for name, column in SECRET if name == table.name}
    listed = columns_of(table.name)
    assert len(set(listed)) == len(listed)
    assert not secret & set(listed)
    assert secret | set(listed) == {column.name for column in table.columns}


def test_nothing_is_listed_that_is_no_column():
    assert set(TABLES) | MADE_OF_OTHERS == set(Base.metadata.tables)
    assert not set(TABLES) & MADE_OF_OTHERS
    assert all(column in Base.metadata.tables[table].c for table, column in SECRET)
    assert len({file_name(table) for table in TABLES}) == len(TABLES)


@pytest.mark.parametrize("word", ["password", "token", "hash", "sealed", "secret"])
def test_a_column_named_as_a_secret_is_one(word: str):
    named = {
        (table.name, column.name)
        for table in ALL
        for column in table.columns
        # A reference to a row is no part of what the row keeps secret.
        if word in column.name and not column.foreign_keys
    }
    assert named <= set(SECRET)


def test_the_json_holds_every_row_of_every_table(shop_db: Session):
    document = json.loads(joined(shop_json.chunks(shop_db, AT)))
    assert (document["format"], document["version"]) == ("shopflow export", 1)
    assert document["exported_at"] == "2026-03-05T15:30:00+00:00"
    for table in ALL:
        rows = document["tables"][table.name]
        assert len(rows) == shop_db.scalar(select(func.count()).select_from(table))
        assert all(list(row) == columns_of(table.name) for row in rows)
    customer = shop_db.scalars(select(Customer).where(Customer.name == "=1+1")).one()
    (row,) = [row for row in document["tables"]["customer"] if row["id"] == customer.id]
    assert row["notes"] == customer.notes
    assert document["tables"]["payment"][0]["amount"] == "50.00"


def test_no_secret_is_in_it(shop_db: Session):
    person = shop_db.scalars(select(User)).one()
    text = joined(shop_json.chunks(shop_db, AT)).decode()
    for table, column in SECRET:
        for value in shop_db.scalars(select(Base.metadata.tables[table].c[column])):
            if isinstance(value, str) and len(value) > 10:
                assert value not in text
    assert person.password_hash not in text


def tables_of(content: bytes) -> dict[str, list[dict[str, Any]]]:
    with zipfile.ZipFile(io.BytesIO(content)) as file:
        assert file.testzip() is None
        return {
            name: list(csv.DictReader(io.StringIO(file.read(name).decode("utf-8-sig"), newline="")))
            for name in file.namelist()
            if name.endswith(".csv")
        }


def test_the_archive_has_a_file_for_every_table(shop_db: Session):
    content = joined(archive.chunks(shop_db, AT))
    tables = tables_of(content)
    assert set(tables) == {file_name(table) for table in TABLES}
    for table in ALL:
        rows = tables[file_name(table.name)]
        assert len(rows) == shop_db.scalar(select(func.count()).select_from(table))
    (named,) = [row for row in tables["customers.csv"] if "1+1" in row["name"]]
    assert (named["name"], named["notes"]) == ("'=1+1", 'He said "no",\nthen left')
    assert tables["flow-tests.csv"][0]["barometer"] == "29.41 inHg"
    assert {row["amount"] for row in tables["payments.csv"]} == {"50.00", "-50.00"}
    with zipfile.ZipFile(io.BytesIO(content)) as file:
        readme = file.read("README.txt").decode()
    assert all(file_name(table) in readme for table in TABLES)


@pytest.mark.slow
@pytest.mark.parametrize("chunks", [shop_json.chunks, archive.chunks], ids=["json", "zip"])
def test_memory_stays_flat(db: Session, chunks):
    factories.shop_or_none(db)
    people = [{"name": f"C{n}", "created_at": AT, "notes": "x" * 2000} for n in range(20_000)]
    db.execute(insert(Customer), people)
    del people
    tracemalloc.start()
    total = sum(len(piece) for piece in chunks(db, AT))
    _, peak = tracemalloc.get_traced_memory()
    tracemalloc.stop()
    # 40 MB of notes; 500 rows of them at a time are 1 MB, and Python's own share beside.
    assert total > 100_000
    assert peak < 8_000_000


@pytest.mark.parametrize("chunks", [shop_json.chunks, archive.chunks], ids=["json", "zip"])
def test_what_is_written_meanwhile_is_not_in_it(engine: Engine, chunks):
    with session_factory(engine).begin() as writing:
        factories.shop_or_none(writing)
        factories.create_customer(writing, name="Orla Before")
    with session_factory(engine.execution_options(**READ_ONLY))() as reading:
        freeze(reading)
        pieces = chunks(reading, AT)
        schema_version(reading)
        with session_factory(engine).begin() as writing:
            factories.create_customer(writing, name="Bo Meanwhile")
        content = joined(pieces)
    if content[:2] == b"PK":
        names = {row["name"] for row in tables_of(content)["customers.csv"]}
    else:
        names = {row["name"] for row in json.loads(content)["tables"]["customer"]}
    assert names == {"Orla Before"}
