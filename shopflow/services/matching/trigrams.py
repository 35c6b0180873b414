"""The index of the texts past jobs are looked up by, three letters at a time.

PostgreSQL takes its own (pg_trgm) by itself wherever a text is asked for by LIKE; SQLite has to be
asked. What it gives is held against the text all the same, so that both find alike.
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from sqlalchemy import Select, bindparam, column, func, literal_column, select, table
from sqlalchemy.orm import Session

from shopflow.models.lookup_text import TRIGRAMS

LENGTH = 3
"""Letters of a text that the index knows of at least."""

MANY = 1_000
"""Visits above which a text is so common that going through the newest ones finds it sooner."""


def seldom(db: Session, phrases_by_column: Mapping[str, str]) -> Select[int] | None:
    """Keys of the visits of which a column of LookupText holds its folded text, if these are few.

    None if they are many, if a text is too short for the index, and in PostgreSQL.
    """
    if db.get_bind().dialect.name != "sqlite" or min(map(len, phrases_by_column.values())) < LENGTH:
        return None
    phrases = " OR ".join(f"{name} : {_quoted(text)}" for name, text in phrases_by_column.items())
    count = db.execute(_COUNT, {"phrases": phrases, "many": MANY}).scalar_one()
    return _holding(phrases) if count < MANY else None


def _holding(phrases: Any) -> Select[int]:
    matches = literal_column(TRIGRAMS).bool_op("MATCH")(phrases)
    return select(column("rowid")).select_from(table(TRIGRAMS)).where(matches)


_COUNT = select(func.count()).select_from(
    _holding(bindparam("phrases")).limit(bindparam("many")).subquery()
)
"""Visits that hold the phrases, so many at most."""


def _quoted(text: str) -> str:
    return '"' + text.replace('"', '""') + '"'
