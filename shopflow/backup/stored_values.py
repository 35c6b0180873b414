"""Values as they lie in the database, read past the models: those no record can hold are named.

A bad disk, or a hand in the database, leaves text where a number belongs, or JSON that ends
halfway; a page that reads it fails. Here each is named by its table, row and column.
"""

from __future__ import annotations

import json
import re
from collections.abc import Callable, Iterator, Sequence
from datetime import date, datetime
from decimal import Decimal
from typing import Any

from sqlalchemy import (
    JSON,
    Boolean,
    Column,
    Connection,
    Date,
    DateTime,
    Enum,
    Float,
    Integer,
    LargeBinary,
    Table,
)
from sqlalchemy.types import TypeDecorator

from shopflow.models import Base
from shopflow.models.base import DecimalsText, DecimalText
from shopflow.tamper_evidence.digests import STREAMING, key_text
from shopflow.tamper_evidence.tables import key_columns
from shopflow.texts import gettext

MOST_SHOWN = 40
"""Characters of a damaged value that are shown."""

_NUMBER = re.compile(r"-?\d+(\.\d*)?(E[+-]?\d+)?|-?\.\d+", re.ASCII | re.IGNORECASE)

Fits = Callable[[Any], bool]
"""Tells whether a value, not None, can stand in a column."""


def damaged(connection: Connection) -> Iterator[str | None]:
    """For each row, its first value that cannot stand there, in words, or None."""
    for table in Base.metadata.sorted_tables:
        yield from _of_table(connection, table)


def _of_table(connection: Connection, table: Table) -> Iterator[str | None]:
    sqlite = connection.dialect.name == "sqlite"
    quote = connection.dialect.identifier_preparer.quote
    columns = list(table.columns)
    # PostgreSQL refuses JSON that is none, and would give it read.
    names = [
        f"{quote(column.name)}::text"
        if isinstance(column.type, JSON) and not sqlite
        else quote(column.name)
        for column in columns
    ]
    tests = [_test(column) for column in columns]
    places = [columns.index(table.c[name]) for name in key_columns(table)]
    query = f"SELECT {', '.join(names)} FROM {quote(table.name)}"
    with connection.exec_driver_sql(query, execution_options=STREAMING) as result:
        for rows in result.partitions():
            bad = _bad_places(rows, columns, tests)
            for number, row in enumerate(rows):
                column = bad.get(number)
                yield (
                    None
                    if column is None
                    else gettext(
                        "{table}, row {key}: {column} holds {value}",
                        table=table.name,
                        key=key_text(row[place] for place in places),
                        column=columns[column].name,
                        value=_shown(row[column]),
                    )
                )


def _bad_places(
    rows: Sequence[Any], columns: Sequence[Column[Any]], tests: Sequence[Fits]
) -> dict[int, int]:
    """First bad column of each row that has one; by the column, since most are right throughout."""
    bad: dict[int, int] = {}
    for place, values in enumerate(zip(*rows, strict=True)):
        fits, optional = tests[place], bool(columns[place].nullable)
        for number, value in enumerate(values):
            if not (optional if value is None else fits(value)):
                bad.setdefault(number, place)
    return bad


def _test(column: Column[Any]) -> Fits:
    kind = column.type
    if isinstance(kind, DecimalText):
        return lambda value: isinstance(value, str) and bool(_NUMBER.fullmatch(value))
    if isinstance(kind, DecimalsText):
        return lambda value: isinstance(value, str) and all(map(_NUMBER.fullmatch, value.split()))
    if isinstance(kind, TypeDecorator):
        kind = kind.impl_instance
    if isinstance(kind, Enum):
        return frozenset(kind.enums).__contains__
    if isinstance(kind, JSON):
        return _is_json
    if isinstance(kind, Boolean):
        return lambda value: value in (0, 1)
    if isinstance(kind, Integer):
        return lambda value: type(value) is int
    if isinstance(kind, Float):
        return lambda value: isinstance(value, float | int | Decimal) and value == value
    if isinstance(kind, DateTime):
        return lambda value: isinstance(value, datetime) or _reads(datetime.fromisoformat, value)
    if isinstance(kind, Date):
        return lambda value: isinstance(value, date) or _reads(date.fromisoformat, value)
    if isinstance(kind, LargeBinary):
        return lambda value: isinstance(value, bytes | memoryview)
    return _is_text


def _is_text(value: Any) -> bool:
    # Bytes that are no UTF-8 come as lone surrogates.
    return isinstance(value, str) and (value.isascii() or not any(map(_is_surrogate, value)))


def _is_surrogate(sign: str) -> bool:
    return "\ud800" <= sign <= "\udfff"


def _is_json(value: Any) -> bool:
    return isinstance(value, str) and _reads(json.loads, value)


def _reads(reader: Callable[[str], Any], value: Any) -> bool:
    try:
        reader(value)
    except (TypeError, ValueError):
        return False
    return True


def _shown(value: Any) -> str:
    if value is None:
        return gettext("nothing")
    words = ascii(value)
    return words if len(words) <= MOST_SHOWN else f"{words[:MOST_SHOWN]}…"
