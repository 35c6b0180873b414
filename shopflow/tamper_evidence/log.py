"""The log of record versions: appending to it, its head, and noting a head as an anchor."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import datetime
from typing import Any, NamedTuple

from sqlalchemy import Connection, insert, select, update
from sqlalchemy.dialects import postgresql

from shopflow.models import AnchorKind, RecordLogAnchor, RecordLogEntry, RecordLogHead
from shopflow.tamper_evidence.merkle import Tree

NOT_READ = b""
"""In place of the digest that an entry replaces: the row was not read before it was written."""


class Entry(NamedTuple):
    """One version of a row."""

    subject: str
    """Table of the row."""

    key: str
    digest: bytes | None
    """SHA-256 of its contents; None where it was deleted."""

    replaces: bytes | None
    """Digest of the row as the writer met it; None for a new one, NOT_READ where it is unknown."""

    def as_leaf(self) -> bytes:
        """The entry as the tree takes it."""
        digests = (None if part is None else part.hex() for part in (self.digest, self.replaces))
        return f"{self.subject} {self.key} {' '.join(map(str, digests))}".encode()


AT_ONCE = 2_000
"""Entries written in one statement."""

_HEAD: Any = RecordLogHead.__table__
_ENTRY: Any = RecordLogEntry.__table__
_STORED_HEAD = select(_HEAD.c.size, _HEAD.c.stack).where(_HEAD.c.id == 1)


@dataclass(frozen=True, slots=True)
class LogHead:
    """Number of entries and the hash over all of them, in hexadecimal."""

    size: int
    root: str


def head(connection: Connection) -> LogHead:
    """The log's head as committed, or as this transaction left it."""
    tree = _tree(connection.execute(_STORED_HEAD).first())
    return LogHead(tree.size, tree.root().hex())


class Appender:
    """Appends entries; other writers wait from its making to the end of the transaction."""

    def __init__(self, connection: Connection) -> None:
        self._connection = connection
        self._tree = _locked(connection)
        self._waiting: list[tuple[Any, ...]] = []
        mark = "%s" if connection.dialect.name == "postgresql" else "?"
        self._insert = (
            f"INSERT INTO {_ENTRY.name} (number, subject, subject_key, digest, replaces) "
            f"VALUES ({', '.join([mark] * 5)})"
        )

    def add(self, entries: Iterable[Entry]) -> None:
        """Append entries in their order."""
        for entry in entries:
            self._tree.append(entry.as_leaf())
            self._waiting.append((self._tree.size, *entry))
            if len(self._waiting) == AT_ONCE:
                self._write()

    def finish(self) -> LogHead:
        """Write what is waiting, and the head."""
        self._write()
        stored = update(_HEAD).values(size=self._tree.size, stack=self._tree.packed())
        self._connection.execute(stored)
        return LogHead(self._tree.size, self._tree.root().hex())

    def _write(self) -> None:
        if self._waiting:
            self._connection.exec_driver_sql(self._insert, self._waiting)
            self._waiting = []


def anchor(
    connection: Connection,
    kind: AnchorKind,
    at: datetime,
    of: LogHead,
    sent_to: str = "",
    reply: bytes | None = None,
) -> None:
    """Note a head of the log."""
    values = {"kind": kind, "at": at, "size": of.size, "root": of.root}
    connection.execute(insert(RecordLogAnchor).values(**values, sent_to=sent_to, reply=reply))


def entries(connection: Connection, subjects: Collection[str] = ()) -> Iterator[tuple[int, Entry]]:
    """Every entry in its order, with its number; those of some tables where they are named."""
    query = select(_ENTRY).order_by(_ENTRY.c.number)
    if subjects:
        query = query.where(_ENTRY.c.subject.in_(subjects))
    with connection.execute(query.execution_options(yield_per=AT_ONCE)) as result:
        for rows in result.partitions():
            for number, *values in rows:
                yield number, Entry(*values)


def _locked(connection: Connection) -> Tree:
    """The tree, which nobody else can append to until the transaction ends."""
    row = connection.execute(_STORED_HEAD.with_for_update()).first()
    if row is None:
        begun: Any = insert(_HEAD).values(id=1, size=0, stack=b"")
        if connection.dialect.name == "postgresql":
            # Two who write the first entries at once: the later one waits here for the other.
            values = {"id": 1, "size": 0, "stack": b""}
            begun = postgresql.insert(_HEAD).values(values).on_conflict_do_nothing()
        connection.execute(begun)
        row = connection.execute(_STORED_HEAD.with_for_update()).first()
    return _tree(row)


def _tree(row: Any) -> Tree:
    return Tree() if row is None else Tree.unpacked(row.size, row.stack)
