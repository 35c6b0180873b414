"""Rows taken into the log as they stand: those that were there before it, those migrations changed.

Both happen when a database is brought up to date (migrations/env.py). Rows that were found changed
before a migration are left out of it, so that a migration whitewashes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from datetime import UTC, datetime

from sqlalchemy import Connection, inspect

from shopflow.models import AnchorKind
from shopflow.tamper_evidence import log
from shopflow.tamper_evidence.digests import RowReader
from shopflow.tamper_evidence.tables import proved

Doubted = frozenset[tuple[str, str]]
"""Table and key of rows that are not as the log has them."""


def doubted(connection: Connection) -> Doubted:
    """Rows that are not as the log has them, whatever revision the database is of."""
    if not inspect(connection).has_table("record_log"):
        return frozenset()
    return frozenset(_doubted(connection, logged(connection)))


def logged(connection: Connection) -> dict[str, dict[str, bytes | None]]:
    """Digest of the last version of each row, by table and key."""
    last: dict[str, dict[str, bytes | None]] = {}
    for _, entry in log.entries(connection):
        last.setdefault(entry.subject, {})[entry.key] = entry.digest
    return last


def take_in(connection: Connection, except_for: Doubted) -> None:
    """Append every row that the log does not have as it is now, and note when that was."""
    last = logged(connection)
    kind = AnchorKind.UPGRADE if last else AnchorKind.START
    _append(connection, last, kind, datetime.now(UTC), except_for)


def accept(connection: Connection, at: datetime) -> int:
    """Append the rows that are not as the log has them, as a person accepts them; their number."""
    return _append(connection, logged(connection), AnchorKind.ACCEPTED, at)


def _append(
    connection: Connection,
    last: dict[str, dict[str, bytes | None]],
    kind: AnchorKind,
    at: datetime,
    except_for: Doubted = frozenset(),
) -> int:
    news = [entry for entry in _news(connection, last) if entry[:2] not in except_for]
    if news or kind is AnchorKind.ACCEPTED:
        appender = log.Appender(connection)
        appender.add(news)
        log.anchor(connection, kind, at, appender.finish())
    return len(news)


def _doubted(
    connection: Connection, last: dict[str, dict[str, bytes | None]]
) -> Iterator[tuple[str, str]]:
    there = _tables(connection)
    for subject, versions in last.items():
        rows = dict(_rows(connection, subject)) if subject in there else {}
        for key in versions.keys() | rows.keys():
            if rows.get(key) != versions.get(key):
                yield subject, key


def _news(connection: Connection, last: dict[str, dict[str, bytes | None]]) -> Iterator[log.Entry]:
    there = _tables(connection)
    for table in (table for table in proved() if table.name in there):
        versions = last.get(table.name, {})
        keys = set()
        for key, digest in _rows(connection, table.name):
            keys.add(key)
            if versions.get(key) != digest:
                yield log.Entry(table.name, key, digest, versions.get(key))
        for key, version in versions.items():
            if version is not None and key not in keys:
                yield log.Entry(table.name, key, None, version)


def _tables(connection: Connection) -> set[str]:
    return set(inspect(connection).get_table_names())


def _rows(connection: Connection, table: str) -> Iterator[tuple[str, bytes]]:
    """Rows of a table with the columns it has, which need not be the models' yet."""
    name = connection.dialect.identifier_preparer.quote(table)
    # Most tables of a new database are empty; reading what columns they have takes longer.
    if connection.exec_driver_sql(f"SELECT 1 FROM {name} LIMIT 1").first() is not None:
        yield from RowReader.reflected(connection, table).all()
