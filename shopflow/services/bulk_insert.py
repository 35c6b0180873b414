"""Rows by the thousand into one table, past the ORM: values by column, keys in blocks."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from itertools import repeat
from typing import Any

from sqlalchemy import Column, Dialect, Table, insert, inspect, text
from sqlalchemy.orm import Session

from shopflow.models import Base
from shopflow.tamper_evidence.logged_session import note_inserted

Row = tuple[Any, ...]


def insert_rows(
    db: Session, model: type[Base], names: Sequence[str], rows: Sequence[Row], **alike: Any
) -> None:
    """Insert rows of the columns named, with `alike` in all of them and the table's own defaults.

    The table's types turn values into the driver's, a column at a time: by the row, as the ORM
    and Core do it, costs more than the database does.
    """
    if not rows:
        return
    connection, table = db.connection(), model.metadata.tables[model.__tablename__]
    dialect = connection.dialect
    by_column: dict[str, Iterable[Any]] = {
        **{key: repeat(value) for key, value in {**_defaults(table), **alike}.items()},
        **dict(zip(names, zip(*rows, strict=True), strict=True)),
    }
    if "id" in table.c and "id" not in by_column:
        by_column["id"] = free_keys(db, model, len(rows))
    note_inserted(db, table, zip(*(by_column[key.name] for key in table.primary_key), strict=True))
    # In the table's order, as the statement has them.
    columns = [column for column in table.c if column.key in by_column]
    bound = [_bound(column, dialect, by_column[column.key]) for column in columns]
    keys = [column.key for column in columns]
    statement = insert(table).compile(dialect=dialect, column_keys=keys, for_executemany=True)
    parameters: Any = list(zip(*bound, strict=False))
    if not dialect.positional:
        parameters = [dict(zip(keys, row, strict=True)) for row in parameters]
    connection.exec_driver_sql(str(statement), parameters)


def free_keys(db: Session, model: type[Base], count: int) -> list[int]:
    """So many keys that no row of a table has, nor will have from anyone else, in order."""
    name = model.__tablename__
    if db.get_bind().dialect.name == "sqlite":
        # Whoever is about to write holds the lock.
        last = db.scalar(text(f"SELECT coalesce(max(id), 0) FROM {name}")) or 0
        return list(range(last + 1, last + 1 + count))
    taking = "SELECT nextval(pg_get_serial_sequence(:name, 'id')) FROM generate_series(1, :count)"
    return list(db.scalars(text(taking), {"name": name, "count": count}))


def in_columns(model: type[Base], values: Mapping[str, Any]) -> dict[str, Any]:
    """A record's values by its table's columns: a quantity has two."""
    quantities = inspect(model).composites.keys()
    columns: dict[str, Any] = {}
    for name, value in values.items():
        if name in quantities:
            columns[f"{name}_typed"], columns[f"{name}_si"] = (
                (None, None) if value is None else (value.text, value.si)
            )
        else:
            columns[name] = value
    return columns


def _defaults(table: Table) -> dict[str, Any]:
    """Default values of the columns."""
    defaults: dict[str, Any] = {column.key: column.default for column in table.c}
    return {key: default.arg for key, default in defaults.items() if default and default.is_scalar}


def _bound(column: Column[Any], dialect: Dialect, values: Iterable[Any]) -> Iterable[Any]:
    """A column's values as the driver takes them."""
    process = column.type.dialect_impl(dialect).bind_processor(dialect)
    if process is None:
        return values
    return repeat(process(next(values))) if isinstance(values, repeat) else map(process, values)
