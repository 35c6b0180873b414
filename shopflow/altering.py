"""Tables altered by migrations, with the triggers that SQLite loses where it rebuilds a table."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

from alembic import op
from alembic.operations import BatchOperations
from sqlalchemy import text

TRIGGERS = text("SELECT name, sql FROM sqlite_master WHERE type = 'trigger' AND instr(sql, :table)")


@contextmanager
def altered(table: str) -> Iterator[BatchOperations]:
    """Alter a table: triggers on it, and those elsewhere that name it, are as they were."""
    connection = op.get_bind()
    sqlite = connection.dialect.name == "sqlite"
    triggers = connection.execute(TRIGGERS, {"table": table}).all() if sqlite else []
    for trigger in triggers:
        op.execute(f"DROP TRIGGER {trigger.name}")
    # Its own columns are enough: tables it refers to need no reading, nor theirs.
    with op.batch_alter_table(table, reflect_kwargs={"resolve_fks": False}) as batch:
        yield batch
    for trigger in triggers:
        # As driver SQL: a colon in it is no parameter.
        connection.exec_driver_sql(trigger.sql)
