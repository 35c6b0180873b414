"""Every table as a CSV that a spreadsheet opens, in one zip archive."""

from __future__ import annotations

import io
import json
from collections.abc import Iterator
from datetime import UTC, datetime
from decimal import Decimal
from textwrap import wrap
from typing import Any
from zipfile import ZIP_DEFLATED, ZipFile, ZipInfo

from sqlalchemy import Table
from sqlalchemy.orm import Session

from shopflow.services.export import rows
from shopflow.services.export.columns import SECRET, TABLES, columns_of, file_name, heading
from shopflow.spreadsheet import Cell, csv_text
from shopflow.texts import gettext, gettext_noop, ngettext

MARK = "\ufeff"
"""Tells a spreadsheet that the letters are UTF-8."""

ABOUT = gettext_noop(
    "Each file is a CSV (RFC 4180) in UTF-8, its first row the headings. 'key' names a row, and "
    "'key of job' and the like refer to the row of another file that has it. Quantities stand "
    "twice: as typed, with the unit, and in SI units (m, m2, m3, m3/s, Pa, K, rad, N, 1 for 100 "
    "%). Moments are in UTC. Money is in the shop's currency. A text that a program might take "
    "for a formula has an apostrophe before it."
)
ELSEWHERE = gettext_noop(
    "The PDFs are in the JSON export; photos and files lie in the shop's folder, by their SHA-256."
)

PIECE = 64 * 1024


class _Sink(io.RawIOBase):
    """Holds what the archive writes until it is handed on."""

    def __init__(self) -> None:
        super().__init__()
        self.held = bytearray()

    def writable(self) -> bool:
        """It is."""
        return True

    def write(self, piece: Any) -> int:
        """Take some bytes."""
        self.held += piece
        return len(piece)

    def take(self, least: int = 0) -> Iterator[bytes]:
        """Hand on what is held, where it is worth it."""
        if len(self.held) > least:
            yield bytes(self.held)
            self.held.clear()


def chunks(db: Session, at: datetime) -> Iterator[bytes]:
    """The archive, a piece at a time."""
    sink = _Sink()
    with ZipFile(sink, "w", ZIP_DEFLATED) as archive:
        archive.writestr(_entry("README.txt", at), _readme(rows.schema_version(db), at))
        for table in rows.tables():
            with archive.open(_entry(file_name(table.name), at), "w") as file:
                for text in _csv(db, table):
                    file.write(text.encode())
                    yield from sink.take(PIECE)
    yield from sink.take()


def _entry(name: str, at: datetime) -> ZipInfo:
    entry = ZipInfo(name, at.astimezone(UTC).timetuple()[:6])
    entry.compress_type = ZIP_DEFLATED
    return entry


def _csv(db: Session, table: Table) -> Iterator[str]:
    names = columns_of(table.name)
    yield MARK + csv_text([heading(name) for name in names], [])
    for row in rows.rows_of(db, table):
        yield csv_text(None, [[_cell(row[name]) for name in names]])


def _cell(value: Any) -> Cell:
    """A value in a spreadsheet's cell; papers and pictures are named by their size alone."""
    if isinstance(value, bytes):
        return gettext("{count} bytes, in the JSON export", count=len(value))
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, dict | list):
        return json.dumps(value, ensure_ascii=False)
    # A negative amount is a number, and no formula.
    cell: Cell = value if isinstance(value, Decimal) else rows.plain(value)
    return cell


def _readme(schema: str, at: datetime) -> str:
    files = [f"  {file_name(name):32} {_listed(name)}" for name in sorted(TABLES)]
    secret = [f"  {TABLES[table][0]}: {reason}" for (table, _), reason in SECRET.items()]
    lines = [
        gettext("What the shop has on record"),
        gettext(
            "Exported {at:%Y-%m-%d %H:%M} UTC, schema {schema}.",
            at=at.astimezone(UTC),
            schema=schema,
        ),
        "",
        *wrap(gettext(ABOUT)),
        "",
        *wrap(gettext(ELSEWHERE)),
        "",
        gettext("Files:"),
        *files,
        "",
        gettext("Not exported, for it must stay secret:"),
        *secret,
    ]
    return "\r\n".join(lines) + "\r\n"


def _listed(table: str) -> str:
    count = len(columns_of(table))
    return ngettext("{num} column", "{num} columns", count)
