"""The database session of the whole program: what it commits, it appends to the log.

Rows are noted as they are written: those flushed, those of an UPDATE or DELETE that is executed,
and those inserted in bulk (`note_inserted`). Each is read back once, when the transaction commits.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from functools import cache
from typing import Any

from sqlalchemy import Table, event, inspect, select
from sqlalchemy.orm import (
    Mapper,
    ORMExecuteState,
    RelationshipDirection,
    Session,
    UOWTransaction,
)

from shopflow.tamper_evidence.digests import AT_ONCE, Key, RowReader, key_text
from shopflow.tamper_evidence.log import NOT_READ, Appender, Entry
from shopflow.tamper_evidence.tables import UNPROVED, is_proved, key_columns, proved

_NOTED = "rows to log"


class LoggedSession(Session):
    """A session whose commits append to the log of records."""


class _Written:
    """Rows written in one transaction, by table."""

    def __init__(self, transaction: object) -> None:
        self.transaction = transaction
        self.met: dict[str, dict[Key, bytes | None]] = {}
        """Digest of each row as it was before this transaction wrote it; None for a new one."""

        self.bulk: dict[str, list[range]] = {}
        """Keys inserted in bulk: a set of millions would take more memory than their rows."""

    def note(self, table: str, key: Key, met: bytes | None) -> None:
        self.met.setdefault(table, {}).setdefault(key, met)

    def note_bulk(self, table: str, key: int) -> None:
        ranges = self.bulk.setdefault(table, [])
        if ranges and ranges[-1].stop == key:
            ranges[-1] = range(ranges[-1].start, key + 1)
        else:
            ranges.append(range(key, key + 1))

    def tables(self) -> list[Table]:
        named = self.met.keys() | self.bulk.keys()
        return [table for table in proved() if table.name in named]

    def versions(self, reader: RowReader) -> Iterator[Entry]:
        """The entries of a table: each row as it is now."""
        for keys in self.bulk.get(reader.table, []):
            for start in range(0, len(keys), AT_ONCE):
                some = [(key,) for key in keys[start : start + AT_ONCE]]
                for text, digest in reader.of_keys(some):
                    yield Entry(reader.table, text, digest, None)
        met = self.met.get(reader.table, {})
        now = dict(reader.of_keys(sorted(met)))
        for key in sorted(met):
            text = key_text(key)
            # New and gone again: it was never a record.
            if text in now or met[key] is not None:
                yield Entry(reader.table, text, now.get(text), met[key])


def note_inserted(db: Session, table: Table, keys: Iterable[Key]) -> None:
    """Note rows that were inserted past the ORM."""
    if not is_proved(table.name) or not isinstance(db, LoggedSession):
        return
    written = _written(db)
    for key in keys:
        if len(key) == 1:
            written.note_bulk(table.name, key[0])
        else:
            written.note(table.name, key, None)


@event.listens_for(LoggedSession, "before_flush")
def _note_before(db: Session, context: UOWTransaction, instances: object) -> None:
    keys: dict[str, list[Key]] = {}
    changed = (row for row in db.dirty if is_proved(row.__tablename__) and _is_changed(row))
    for row in (*changed, *db.deleted):
        keys.setdefault(row.__tablename__, []).append(_key_of(row))
    for table in proved():
        if table.name in keys:
            _note_as_met(db, table, keys[table.name])


@event.listens_for(LoggedSession, "after_flush")
def _note_flushed(db: Session, context: UOWTransaction) -> None:
    written = _written(db)
    for row in db.new:
        if is_proved(row.__tablename__):
            written.note(row.__tablename__, _key_of(row), None)
    for row in db.dirty:
        # Those that became so by the flush itself, as a row whose parent was given another key.
        if is_proved(row.__tablename__) and _is_changed(row):
            written.note(row.__tablename__, _key_of(row), NOT_READ)
    for state, (is_deleted, _) in context.states.items():
        # Orphans, which the flush alone knows of.
        row = state.obj()
        if is_deleted and row is not None and is_proved(row.__tablename__):
            written.note(row.__tablename__, _key_of(row), NOT_READ)


@event.listens_for(LoggedSession, "do_orm_execute")
def _note_executed(state: ORMExecuteState) -> None:
    if state.is_select or not (state.is_insert or state.is_update or state.is_delete):
        return
    statement: Any = state.statement
    table = statement.table
    if not is_proved(table.name):
        return
    if state.is_insert:
        raise TypeError(
            f"rows of {table.name} are inserted by the ORM or by insert_rows, which log them"
        )
    if state.is_update and _columns_set(statement) <= UNPROVED.get(table.name, frozenset()):
        return
    matching = select(*(table.c[name] for name in key_columns(table)))
    if statement.whereclause is not None:
        matching = matching.where(statement.whereclause)
    keys = state.session.connection().execute(matching)
    _note_as_met(state.session, table, [tuple(key) for key in keys])


@event.listens_for(LoggedSession, "before_commit")
def _append(db: Session) -> None:
    if db.in_nested_transaction():
        return
    db.flush()
    written: _Written | None = db.info.pop(_NOTED, None)
    if written is None or written.transaction is not db.get_transaction():
        return
    tables = written.tables()
    if not tables:
        return
    connection = db.connection()
    appender = Appender(connection)
    # Read under the log's lock: what another transaction did to a row is then in the log before.
    for table in tables:
        appender.add(written.versions(RowReader.of(connection, table)))
    appender.finish()


def _note_as_met(db: Session, table: Table, keys: list[Key]) -> None:
    """Note rows about to be written, as they are before this transaction does so."""
    written = _written(db)
    fresh = sorted(set(keys) - written.met.get(table.name, {}).keys())
    if not fresh:
        return
    # Held until the commit: another writer's version would come between.
    met = dict(RowReader.of(db.connection(), table).of_keys(fresh, hold=True))
    for key in fresh:
        if key_text(key) in met:
            written.note(table.name, key, met[key_text(key)])


def _written(db: Session) -> _Written:
    """The rows noted in the session's transaction; what one rolled back noted is forgotten."""
    db.connection()
    transaction = db.get_transaction()
    written: _Written | None = db.info.get(_NOTED)
    if written is None or written.transaction is not transaction:
        written = db.info[_NOTED] = _Written(transaction)
    return written


def _key_of(row: Any) -> Key:
    return tuple(inspect(row).mapper.primary_key_from_instance(row))


def _is_changed(row: Any) -> bool:
    """True where a row's own columns change, or a record it refers to."""
    state = inspect(row)
    # Only what was set since the row was read can differ.
    names = state.committed_state.keys() & _watched(state.mapper)
    return any(state.attrs[name].history.has_changes() for name in names)


@cache
def _watched(mapper: Mapper[Any]) -> frozenset[str]:
    """Attributes of a model that a change of its row shows in."""
    left_out = UNPROVED.get(mapper.class_.__tablename__, frozenset())
    columns = (item.key for item in mapper.column_attrs if item.key not in left_out)
    referring = (
        item.key
        for item in mapper.relationships
        if item.direction is RelationshipDirection.MANYTOONE
    )
    return frozenset((*columns, *referring))


def _columns_set(statement: Any) -> set[str]:
    """Columns that an UPDATE sets; one that names none might set any."""
    values = statement._values or {}
    return {getattr(column, "key", str(column)) for column in values} or {"?"}
