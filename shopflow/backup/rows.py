"""Every row of a shop, whichever database holds it: counted, fingerprinted, copied."""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import Connection, Row, Table, exists, func, insert, select, text

from shopflow.errors import ShopflowError
from shopflow.models import Base
from shopflow.texts import gettext

AT_ONCE = 500
"""Rows held in memory at a time; some carry a whole PDF."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Number of a table's rows and a digest of their contents, independent of their order."""

    rows: int
    digest: str


Tallies = Mapping[str, Tally]


class _Counting:
    """Adds up the SHA-256 of each row: the sum says the same however a database orders text."""

    def __init__(self) -> None:
        self._rows = 0
        self._sum = 0

    def add(self, rows: Sequence[Row[Any]]) -> None:
        for row in rows:
            self._rows += 1
            self._sum += int.from_bytes(_digest(row))

    def tally(self) -> Tally:
        return Tally(self._rows, f"{self._sum % 2**256:064x}")


def tallies(connection: Connection) -> Tallies:
    """The tally of every table."""
    by_table: dict[str, Tally] = {}
    for table in Base.metadata.sorted_tables:
        counting = _Counting()
        for rows in _batches(connection, table):
            counting.add(rows)
        by_table[table.name] = counting.tally()
    return by_table


def copy(source: Connection, target: Connection) -> Tallies:
    """Every row of one database into another that has the schema and no rows; what was read.

    Both are of the revision this code knows. Raises ShopflowError where the target holds rows.
    """
    refuse_rows(target)
    copied: dict[str, Tally] = {}
    for table in Base.metadata.sorted_tables:
        counting = _Counting()
        for rows in _batches(source, table):
            counting.add(rows)
            target.execute(insert(table), [dict(row._mapping) for row in rows])
        copied[table.name] = counting.tally()
    _set_sequences(target)
    return copied


def copy_checked(source: Connection, target: Connection) -> Tallies:
    """As `copy`, and read back: raises ShopflowError where a table came out otherwise."""
    copied = copy(source, target)
    refuse_difference(copied, tallies(target))
    return copied


def refuse_rows(connection: Connection) -> None:
    """Raise ShopflowError where any table holds a row."""
    for table in Base.metadata.sorted_tables:
        if connection.scalar(select(exists(select(table)))):
            raise ShopflowError(
                gettext(
                    "the database to fill holds records already (table {table}): name an empty "
                    "one; nothing was changed",
                    table=table.name,
                )
            )


def refuse_difference(expected: Tallies, actual: Tallies) -> None:
    """Raise ShopflowError that names the tables whose rows are not those expected."""
    names = [name for name in expected if expected[name] != actual.get(name)]
    if names:
        raise ShopflowError(
            gettext(
                "not every row arrived as it was; tables {names} differ", names=", ".join(names)
            )
        )


def _batches(connection: Connection, table: Table) -> Iterator[Sequence[Row[Any]]]:
    """A table's rows by their keys: what refers to an earlier row of its own table follows it."""
    query = select(table).order_by(*table.primary_key.columns)
    with connection.execution_options(yield_per=AT_ONCE).execute(query) as result:
        yield from result.partitions()


def _digest(row: Row[Any]) -> bytes:
    return hashlib.sha256("\x1f".join(map(_plain, row)).encode()).digest()


def _plain(value: Any) -> str:
    """A value as text that both databases give alike."""
    if isinstance(value, bytes):
        return hashlib.sha256(value).hexdigest()
    if isinstance(value, dict | list):
        return json.dumps(value, sort_keys=True)
    return repr(value)


def _set_sequences(connection: Connection) -> None:
    """Let PostgreSQL count on after the keys that came with the rows; SQLite does so by itself."""
    if connection.dialect.name != "postgresql":
        return
    for table in Base.metadata.sorted_tables:
        if "id" not in table.c:
            continue
        of_table = text("SELECT pg_get_serial_sequence(:table, 'id')")
        name = connection.scalar(of_table, {"table": table.name})
        last = connection.scalar(select(func.max(table.c.id)))
        if name is not None and last is not None:
            connection.execute(text("SELECT setval(:name, :last)"), {"name": name, "last": last})
