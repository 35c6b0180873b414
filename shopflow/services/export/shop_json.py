"""The whole shop as one JSON document."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

from sqlalchemy.orm import Session

from shopflow.services.export import rows

FORMAT = "shopflow export"
FORMAT_VERSION = 1


def chunks(db: Session, at: datetime) -> Iterator[bytes]:
    """The document, a row at a time.

    {"format", "version", "schema", "exported_at", "tables": {name: [row, …], …}}: a row has its
    columns by name, quantities as typed beside SI values, and refers to others by their keys.
    """
    head = {
        "format": FORMAT,
        "version": FORMAT_VERSION,
        "schema": rows.schema_version(db),
        "exported_at": at.astimezone(UTC).isoformat(),
    }
    yield _json(head)[:-1].encode() + b', "tables": {'
    for index, table in enumerate(rows.tables()):
        yield (",\n" if index else "\n").encode() + _json(table.name).encode() + b": ["
        for number, row in enumerate(rows.rows_of(db, table)):
            values = {name: rows.plain(value) for name, value in row.items()}
            yield (",\n" if number else "\n").encode() + _json(values).encode()
        yield b"]"
    yield b"\n}}\n"


def _json(value: Any) -> str:
    return json.dumps(value, ensure_ascii=False, allow_nan=False)
