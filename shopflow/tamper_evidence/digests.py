"""Digests of rows as a database holds them: the same on SQLite and PostgreSQL, whatever is in them.

Values are read past the models' types, so that a damaged one has a digest like any other. A digest
is SHA-256 of the values as a JSON list, the columns in the order of their names; bytes count by
their own SHA-256, moments are in UTC as SQLite stores them.
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Iterable, Iterator, Sequence
from datetime import UTC, date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import JSON, Boolean, Connection, Table, inspect
from sqlalchemy.types import TypeEngine

from shopflow.tamper_evidence.tables import UNPROVED, key_columns, proved_columns

AT_ONCE = 500
"""Rows asked for by their keys at a time."""

STREAMING = {"yield_per": AT_ONCE}
"""Execution options of a query over a whole table."""

Key = tuple[Any, ...]
"""Values of a row's primary key."""

Raw = Sequence[Any]
"""Values of a row as the driver gave them."""


def key_text(key: Iterable[Any]) -> str:
    """A primary key as the log holds it."""
    return "/".join(map(str, key))


def digest(values: Raw) -> bytes:
    """SHA-256 of a row's values."""
    return hashlib.sha256(_ENCODER.encode(values).encode("ascii")).digest()


class RowReader:
    """Reads the rows of one table with their digests, by key or all of them."""

    def __init__(
        self, connection: Connection, table: str, keys: Sequence[str], columns: dict[str, Any]
    ) -> None:
        self.connection = connection
        self.table = table
        self._keys = keys
        quote = connection.dialect.identifier_preparer.quote
        self._plain = connection.dialect.name == "sqlite"
        shown = [self._shown(quote(name), columns.get(name)) for name in keys]
        shown += [self._shown(quote(name), kind) for name, kind in sorted(columns.items())]
        self._select = f"SELECT {', '.join(shown)} FROM {quote(table)}"
        self._order = f" ORDER BY {', '.join(map(quote, keys))}"
        self._where = tuple(map(quote, keys))

    @classmethod
    def of(cls, connection: Connection, table: Table) -> RowReader:
        """A reader of a table as the models have it."""
        columns = {name: table.c[name].type for name in proved_columns(table)}
        return cls(connection, table.name, key_columns(table), columns)

    @classmethod
    def reflected(cls, connection: Connection, table: str) -> RowReader:
        """A reader of a table as the database has it, of whatever revision."""
        inspector = inspect(connection)
        left_out = UNPROVED.get(table, frozenset())
        columns = {
            column["name"]: column["type"]
            for column in inspector.get_columns(table)
            if column["name"] not in left_out
        }
        keys = inspector.get_pk_constraint(table)["constrained_columns"]
        return cls(connection, table, keys, columns)

    def all(self) -> Iterator[tuple[str, bytes]]:
        """Key and digest of every row."""
        query = self._select + self._order
        with self.connection.exec_driver_sql(query, execution_options=STREAMING) as result:
            for rows in result.partitions():
                yield from map(self._digested, rows)

    def of_keys(self, keys: Sequence[Key], *, hold: bool = False) -> Iterator[tuple[str, bytes]]:
        """Key and digest of the rows with these keys that there are; nobody else can write them
        until the transaction ends where they are held."""
        for start in range(0, len(keys), AT_ONCE):
            yield from map(self._digested, self._rows(keys[start : start + AT_ONCE], hold))

    def _rows(self, keys: Sequence[Key], hold: bool) -> Sequence[Raw]:
        mark = "?" if self._plain else "%s"
        if len(self._where) == 1:
            name = self._where[0]
            if len(keys) > 1 and keys[-1][0] - keys[0][0] == len(keys) - 1:
                where, values = f"{name} BETWEEN {mark} AND {mark}", [keys[0][0], keys[-1][0]]
            else:
                marks = ", ".join([mark] * len(keys))
                where, values = f"{name} IN ({marks})", [key[0] for key in keys]
        else:
            one = f"({' AND '.join(f'{name} = {mark}' for name in self._where)})"
            where = " OR ".join([one] * len(keys))
            values = [value for key in keys for value in key]
        # SQLite has one writer, who holds everything.
        lock = " FOR UPDATE" if hold and not self._plain else ""
        statement = f"{self._select} WHERE {where}{self._order}{lock}"
        return self.connection.exec_driver_sql(statement, tuple(values)).all()

    def _digested(self, row: Raw) -> tuple[str, bytes]:
        count = len(self._where)
        return key_text(row[:count]), digest(row[count:])

    def _shown(self, name: str, kind: TypeEngine[Any] | None) -> str:
        """A column as selected, so that both databases give the same."""
        if self._plain:
            return name
        if isinstance(kind, JSON):
            return f"{name}::text"
        return f"{name}::int" if isinstance(kind, Boolean) else name


def _as_text(value: Any) -> Any:
    """A value that JSON does not know, in words that mean the same on either database."""
    if isinstance(value, bytes | memoryview):
        return f"sha256:{hashlib.sha256(value).hexdigest()}"
    if isinstance(value, datetime):
        moment = value.astimezone(UTC) if value.tzinfo else value
        return moment.replace(tzinfo=None).isoformat(" ", "microseconds")
    if isinstance(value, date):
        return value.isoformat()
    if isinstance(value, Decimal):
        return str(value)
    return repr(value)


_ENCODER = json.JSONEncoder(separators=(",", ":"), default=_as_text)
