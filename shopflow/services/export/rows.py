"""Reading whole tables a few rows at a time, all as they stood at one moment."""

from __future__ import annotations

import base64
from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from enum import Enum
from typing import Any

from sqlalchemy import Table, select, text
from sqlalchemy.orm import Session

from shopflow.models import Base
from shopflow.services.export.columns import TABLES, columns_of

AT_ONCE = 500
"""Rows in memory together."""


def freeze(db: Session) -> None:
    """Let a session that has read nothing yet see the records as they stand now, to its end."""
    if db.get_bind().dialect.name == "postgresql":
        db.connection(execution_options={"isolation_level": "REPEATABLE READ"})


def schema_version(db: Session) -> str:
    """Revision of the database's schema."""
    return str(db.scalar(text("SELECT version_num FROM alembic_version")))


def tables() -> list[Table]:
    """The exported tables, each after those it speaks of."""
    return [table for table in Base.metadata.sorted_tables if table.name in TABLES]


def rows_of(db: Session, table: Table) -> Iterator[dict[str, Any]]:
    """The exported columns of every row, by key."""
    chosen = [table.c[name] for name in columns_of(table.name)]
    query = select(*chosen).order_by(*table.primary_key.columns)
    for row in db.execute(query, execution_options={"yield_per": AT_ONCE}).mappings():
        yield dict(row)


def plain(value: Any) -> Any:
    """A value as JSON holds it: decimals, rows of them and moments as text, bytes in base 64."""
    if isinstance(value, Enum):
        return value.value
    if isinstance(value, Decimal):
        return str(value)
    if isinstance(value, tuple):
        return " ".join(map(str, value))
    if isinstance(value, datetime | date):
        return value.isoformat()
    if isinstance(value, bytes):
        return base64.b64encode(value).decode("ascii")
    return value
