"""The records compared with their log, and the log with its own heads, printed and anchored ones.

It finds what was written past the program. Whoever can write to the database and runs this very
code can make the log anew: only heads that left the shop show that, `StatedHead` ones.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from sqlalchemy import Connection, Table, func, select

from shopflow.models import AnchorKind, RecordLogAnchor, RecordLogEntry, RecordLogHead
from shopflow.tamper_evidence import log
from shopflow.tamper_evidence.digests import RowReader
from shopflow.tamper_evidence.merkle import Tree
from shopflow.tamper_evidence.tables import proved
from shopflow.texts import gettext, translated

HELD = 500_000
"""Entries of small tables whose digests are held in memory together; a larger table is by itself.
"""


@dataclass(frozen=True, slots=True)
class StatedHead:
    """A head of the log as it was stated at some time."""

    size: int
    root: str
    """Hexadecimal, or as much of its beginning as was printed."""

    stated: str
    """Document or message that states it, in words."""


@dataclass(frozen=True, slots=True)
class RowFault:
    """A row that is not as the log has it."""

    table: str
    key: str
    words: str


@dataclass(frozen=True, slots=True)
class Beginning:
    """The time since when the log proves the records, and the head then."""

    at: str
    entries: int


def beginning(connection: Connection) -> Beginning | None:
    """The time when the records that were there before the log were taken in; none where it has
    been there from the first record on."""
    query = (
        select(RecordLogAnchor.at, RecordLogAnchor.size)
        .where(RecordLogAnchor.kind == AnchorKind.START)
        .order_by(RecordLogAnchor.id)
    )
    row = connection.execute(query).first()
    return Beginning(f"{row.at:%Y-%m-%d %H:%M} UTC", row.size) if row is not None else None


def anchored(connection: Connection) -> list[StatedHead]:
    """The heads noted in the database."""
    anchors = RecordLogAnchor.__table__
    return [
        StatedHead(
            row.size,
            row.root,
            gettext(
                "{kind} of {at} UTC (record_log_anchor, row {key})",
                kind=translated(row.kind.value),
                at=f"{row.at:%Y-%m-%d %H:%M}",
                key=row.id,
            ),
        )
        for row in connection.execute(select(anchors).order_by(anchors.c.id))
    ]


def log_faults(connection: Connection, stated: Iterable[StatedHead]) -> Iterator[str | None]:
    """For the log and each head stated of it, what is wrong, or None."""
    by_size: dict[int, list[StatedHead]] = {}
    for item in stated:
        by_size.setdefault(item.size, []).append(item)
    tree = Tree()
    yield from _compared(tree, by_size.pop(0, []))
    gap = ""
    for number, entry in log.entries(connection):
        if number != tree.size + 1 and not gap:
            gap = gettext(
                "record_log, row {number}: {expected} was expected, so entries are missing",
                number=number,
                expected=tree.size + 1,
            )
        tree.append(entry.as_leaf())
        if tree.size in by_size:
            yield from _compared(tree, by_size.pop(tree.size))
    if gap:
        yield gap
    yield _head_fault(connection, tree)
    for size, items in sorted(by_size.items()):
        for item in items:
            yield gettext(
                "the log has {size} entries and {stated} states {stated_size}: its end is missing",
                size=tree.size,
                stated=item.stated,
                stated_size=size,
            )


def row_faults(connection: Connection) -> Iterator[RowFault | None]:
    """For each row that should be as the log has it, what is wrong, or None."""
    accepted = _accepted(connection)
    for names in _groups(connection):
        last: dict[str, dict[str, bytes | None]] = {}
        for number, entry in log.entries(connection, names):
            versions = last.setdefault(entry.subject, {})
            met = entry.replaces
            if number > accepted and met not in (versions.get(entry.key), log.NOT_READ):
                yield RowFault(
                    entry.subject,
                    entry.key,
                    gettext("it was changed outside shopflow, and then saved again in shopflow"),
                )
            versions[entry.key] = entry.digest
        for table in proved():
            if table.name in names:
                yield from _table_faults(connection, table, last.pop(table.name, {}))


def _table_faults(
    connection: Connection, table: Table, versions: dict[str, bytes | None]
) -> Iterator[RowFault | None]:
    for key, digest in RowReader.of(connection, table).all():
        yield _row_fault(table.name, key, versions.pop(key, None), digest)
    for key, version in versions.items():
        if version is not None:
            yield RowFault(table.name, key, gettext("it was deleted outside shopflow"))


def _accepted(connection: Connection) -> int:
    """Size of the log up to which a person accepted the records as they were."""
    sizes = select(func.max(RecordLogAnchor.size)).where(
        RecordLogAnchor.kind == AnchorKind.ACCEPTED
    )
    return connection.scalar(sizes) or 0


def _compared(tree: Tree, stated: Iterable[StatedHead]) -> Iterator[str | None]:
    root = tree.root().hex()
    for item in stated:
        yield (
            None
            if item.root and root.startswith(item.root)
            else gettext(
                "the log's first {size} entries are not those of {stated}: it was rewritten",
                size=tree.size,
                stated=item.stated,
            )
        )


def _head_fault(connection: Connection, tree: Tree) -> str | None:
    heads = RecordLogHead.__table__
    row = connection.execute(select(heads)).first()
    if (row.size, row.stack) == (tree.size, tree.packed()) if row else not tree.size:
        return None
    return gettext(
        "record_log_head, row 1: it is not that of the {size} entries of record_log", size=tree.size
    )


def _row_fault(table: str, key: str, version: bytes | None, digest: bytes) -> RowFault | None:
    if version == digest:
        return None
    if version is None:
        return RowFault(table, key, gettext("it was added outside shopflow"))
    return RowFault(table, key, gettext("it was changed outside shopflow"))


def _groups(connection: Connection) -> Iterator[set[str]]:
    """Tables in groups whose entries are held in memory together."""
    entry = RecordLogEntry.__table__
    counted = select(entry.c.subject, func.count()).group_by(entry.c.subject)
    counts: dict[str, int] = dict(connection.execute(counted).all())
    names, held = set[str](), 0
    for table in proved():
        count = counts.get(table.name, 0)
        if names and held + count > HELD:
            yield names
            names, held = set(), 0
        names.add(table.name)
        held += count
    yield names
