"""Rows changed behind the program's back: `shopflow check` names each, and never breaks off."""

from __future__ import annotations

import random
import sqlite3
from collections.abc import Iterator
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from sqlalchemy import Column, Connection, Table, select, text, update
from sqlalchemy.exc import DBAPIError
from sqlalchemy.types import Boolean, Date, DateTime, Float, Integer, LargeBinary, TypeDecorator

from shopflow.backup.stored_values import damaged
from shopflow.config import DATABASE_FILE
from shopflow.tamper_evidence.checking import row_faults
from shopflow.tamper_evidence.tables import UNPROVED, key_columns, proved
from tests.reliability.conftest import ShopCopy
from tests.reliability.serving import run

FLIPPED = 39


def other_value(column: Column[Any]) -> str | None:
    """SQL of another value that a column can hold; None where only some are allowed."""
    kind, name = column.type, f'"{column.name}"'
    if isinstance(kind, TypeDecorator):
        kind = kind.impl_instance
    if isinstance(kind, Boolean):
        return f"NOT {name}"
    if isinstance(kind, Integer):
        return f"{name} + 1"
    if isinstance(kind, Float):
        # The last bit of a double, or nearly.
        return f"CASE {name} WHEN 0 THEN 1 ELSE {name} * 1.0000000000000005 END"
    if isinstance(kind, DateTime):
        return "'2001-02-03 04:05:06.000007'"
    if isinstance(kind, Date):
        return "'2001-02-03'"
    if isinstance(kind, LargeBinary):
        return None
    if kind.__class__.__name__ == "JSON":
        return """'{"changed": 1}'"""
    return f"{name} || '~'"


def lay_open(connection: Connection) -> None:
    """Take every guard and reference away, as somebody can who gets at the database itself."""
    if connection.dialect.name == "postgresql":
        connection.execute(text("SET session_replication_role = replica"))
        return
    names = "SELECT name FROM sqlite_master WHERE type = 'trigger'"
    for name in connection.scalars(text(names)).all():
        connection.execute(text(f"DROP TRIGGER {name}"))


def change_each_column(connection: Connection, table: Table) -> Iterator[tuple[str, str]]:
    """Change every column of a table, each in another row while there are so many; the rows."""
    keys = [table.c[name] for name in key_columns(table)]
    rows = connection.execute(select(*keys).order_by(*keys)).all()
    columns = [
        column
        for column in table.columns
        if column.name not in UNPROVED.get(table.name, ()) and not column.primary_key
    ]
    for number, column in enumerate(columns):
        value = other_value(column) or ""
        for row in rows[number % max(len(rows), 1) :][:1] if value else []:
            where = [key == part for key, part in zip(keys, row, strict=True)]
            changed = update(table).where(*where, column.is_not(None))
            try:
                with connection.begin_nested():
                    done = connection.execute(
                        changed.values({column.name: text(value)}).execution_options(
                            synchronize_session=False
                        )
                    )
            except DBAPIError:
                # A CHECK or a length refuses it: so it would the attacker.
                continue
            if done.rowcount:
                yield table.name, "/".join(map(str, row))


def changed_rows(connection: Connection) -> set[tuple[str, str]]:
    """Table and key of the rows that are said to be changed."""
    faults = list(filter(None, row_faults(connection)))
    assert {fault.words for fault in faults} == {"it was changed outside shopflow"}
    return {(fault.table, fault.key) for fault in faults}


@pytest.mark.slow
def test_each_changed_row_is_named(shop_copy: ShopCopy) -> None:
    engine = shop_copy.engine()
    with engine.connect() as connection:
        assert not [fault for fault in row_faults(connection) if fault]
    with engine.connect() as connection:
        if engine.dialect.name == "sqlite":
            # Without effect inside a transaction.
            driver: Any = connection.connection.driver_connection
            driver.execute("PRAGMA foreign_keys=OFF")
        lay_open(connection)
        changed = {row for table in proved() for row in change_each_column(connection, table)}
        named = changed_rows(connection)
        connection.rollback()
    engine.dispose()
    assert len({table for table, _ in changed}) >= 45
    assert len(changed) >= 300
    assert named == changed


def flip_a_bit(content: bytearray, value: bytes, chance: random.Random) -> bool:
    """Flip one bit of a stored value, wherever it lies in the file; False where it is there more
    than once, so that nobody knows which is the row's."""
    at = content.find(value)
    if at < 0 or content.find(value, at + 1) >= 0:
        return False
    content[at + chance.randrange(len(value))] ^= 1 << chance.randrange(8)
    return True


def flip_bits(file: Path, chance: random.Random) -> set[tuple[str, str]]:
    """Flip a bit in values of so many rows of many tables, in the file itself; the rows."""
    with closing(sqlite3.connect(file)) as connection:
        connection.execute("PRAGMA wal_checkpoint(TRUNCATE)")
        stored = [
            (table.name, "/".join(map(str, row[: len(keys)])), row[-1])
            for table in proved()
            for keys in [key_columns(table)]
            for column in table.columns
            if column.name not in UNPROVED.get(table.name, ())
            for row in connection.execute(
                f'SELECT {", ".join(keys)}, CAST("{column.name}" AS BLOB) FROM "{table.name}" '
                f"WHERE typeof(\"{column.name}\") IN ('text', 'blob')"
            )
            if len(row[-1]) >= 8
        ]
    chance.shuffle(stored)
    content = bytearray(file.read_bytes())
    flipped: set[tuple[str, str]] = set()
    tables: dict[str, int] = {}
    for table, key, value in stored:
        # A few of each table, so that events do not take all.
        wanted = tables.get(table, 0) < 4 and (table, key) not in flipped
        if wanted and flip_a_bit(content, value, chance):
            flipped.add((table, key))
            tables[table] = tables.get(table, 0) + 1
        if len(flipped) == FLIPPED:
            break
    file.write_bytes(content)
    return flipped


@pytest.mark.slow
def test_flipped_bits_are_found_and_break_nothing_off(in_sqlite: ShopCopy) -> None:
    file = in_sqlite.folder / DATABASE_FILE
    flipped = flip_bits(file, random.Random(21))
    assert len(flipped) == FLIPPED
    process = run("check", *in_sqlite.where)
    assert process.returncode == 1
    assert "Traceback" not in process.stderr, process.stderr
    assert "WRONG  records are as they were saved" in process.stdout
    engine = in_sqlite.engine()
    with engine.connect() as connection:
        driver: Any = connection.connection.driver_connection
        driver.text_factory = lambda raw: raw.decode("utf-8", "surrogateescape")
        assert changed_rows(connection) == flipped
    engine.dispose()


NO_OP = "CREATE TRIGGER invoice_no_update BEFORE UPDATE ON invoice BEGIN SELECT 1; END"
SPOILED = {
    "DELETE FROM event": "event, row 1: it was deleted outside shopflow",
    "UPDATE payment SET amount = amount + 10000 WHERE id = 2": "payment, row 2: it was changed",
    "UPDATE calibration SET factor = '1.05' WHERE id = 1": "calibration, row 1: it was changed",
    "UPDATE person SET role = 'owner' WHERE id = 3": "person, row 3: it was changed",
    "INSERT INTO payment SELECT 9001, job_id, received_on, amount, method, note, is_deposit, "
    "recorded_at, recorded_by_id FROM payment WHERE id = 1": "payment, row 9001: it was added",
    "DROP TRIGGER invoice_no_update": "",
    NO_OP: "invoice.invoice_no_update: the trigger does not do what shopflow's does",
    "DROP TRIGGER invoice_no_delete": "invoice.invoice_no_delete: the trigger is gone",
    "UPDATE invoice SET total = total + 100 WHERE id = 3": "its total is",
    "UPDATE quote SET snapshot = '{\"number\"' WHERE id = 2": "quote, row 2: snapshot holds",
    "UPDATE cam SET intake_rocker_ratio = '1.5x' WHERE id = 1": "cam, row 1: intake_rocker_ratio",
    "UPDATE job SET state = 'lost' WHERE id = 4": "job, row 4: state holds 'lost'",
    "UPDATE counter SET last = last + 1 WHERE series = 'quote'": "stands at",
    "UPDATE head SET material = NULL WHERE id = 5": "head, row 5: material holds nothing",
}
"""Statements of somebody with the database in hand, and the check's words for each."""


@pytest.mark.slow
def test_what_used_to_pass_as_whole_is_named(in_sqlite: ShopCopy) -> None:
    with closing(sqlite3.connect(in_sqlite.folder / DATABASE_FILE)) as connection:
        guards = "SELECT name FROM sqlite_master WHERE type = 'trigger' AND tbl_name = 'quote'"
        for (name,) in connection.execute(guards).fetchall():
            connection.execute(f"DROP TRIGGER {name}")
        connection.execute("PRAGMA ignore_check_constraints = ON")
        connection.execute("PRAGMA writable_schema = ON")
        connection.execute(
            "UPDATE sqlite_master SET sql = replace(sql, 'material VARCHAR(200) NOT NULL', "
            "'material VARCHAR(200)') WHERE name = 'head'"
        )
        connection.commit()
    with closing(sqlite3.connect(in_sqlite.folder / DATABASE_FILE)) as connection:
        connection.execute("PRAGMA ignore_check_constraints = ON")
        for statement in SPOILED:
            connection.execute(statement)
        connection.commit()
    process = run("check", *in_sqlite.where)
    assert "Traceback" not in process.stderr, process.stderr
    assert process.returncode == 1
    unsaid = [words for words in SPOILED.values() if words not in process.stdout]
    assert not unsaid, process.stdout
    assert "What to do: " in process.stdout


def test_values_of_either_database_can_be_read(shop_copy: ShopCopy) -> None:
    engine = shop_copy.engine()
    with engine.connect() as connection:
        assert not [fault for fault in damaged(connection) if fault]
    engine.dispose()
