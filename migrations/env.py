"""Alembic's entry: runs migrations on the connection it is given, or on SHOPFLOW_DATABASE_URL."""

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from alembic.operations import ops
from alembic.script import ScriptDirectory, write_hooks
from alembic.util import CommandError
from sqlalchemy import Column, Connection

from shopflow.database import open_engine
from shopflow.models import Base
from shopflow.models.base import DecimalsText, DecimalText, Money, UtcDateTime
from shopflow.models.lookup_text import TRIGRAMS
from shopflow.models.session_stamp import SESSION_STAMP
from shopflow.services.bench import missing_cases, missing_summaries
from shopflow.tamper_evidence import take_in

PLAIN_TYPES = {
    UtcDateTime: "sa.DateTime(timezone=True)",
    Money: "sa.BigInteger()",
    DecimalText: "sa.String(40)",
    DecimalsText: "sa.Text()",
}


IMPORTED = "from alembic import op\n"


def render_item(kind: str, item: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Write a migration's column types without the app's own classes, which will change."""
    return PLAIN_TYPES.get(type(item), False) if kind == "type" else False


def is_of_models(name: str | None, kind: str, parents: Any) -> bool:
    """Tell a table or index of the models from those that triggers keep."""
    return not (name or "").startswith((TRIGRAMS, SESSION_STAMP))


def number(_: Any, __: Any, directives: list[ops.MigrationScript]) -> None:
    """Number a new migration after all others. Raises CommandError where rows would stop it."""
    others = ScriptDirectory.from_config(context.config).walk_revisions()
    last = max((int(other.revision) for other in others), default=0)
    for script in directives:
        script.rev_id = f"{last + 1:04d}"
        for table, column in _added(script.upgrade_ops_list):
            if not column.nullable and column.server_default is None:
                raise CommandError(
                    f"{table}.{column.name} is NOT NULL, and the rows that are there have no value "
                    "for it: give its mapped_column a server_default, or let it be None"
                )


def _added(found: Any) -> Iterator[tuple[str, Column[Any]]]:
    """Every column added to a table that is there already, with the table's name."""
    for item in found:
        if isinstance(item, ops.AddColumnOp):
            yield item.table_name, item.column
        elif isinstance(item, ops.OpContainer):
            yield from _added(item.ops)


@write_hooks.register("altered")
def keep_triggers(path: str, _: dict[str, Any]) -> None:
    """Let a new migration alter tables by `altered`, which keeps SQLite's triggers."""
    file = Path(path)
    text = re.sub(r" +# ### .* ###\n", "", file.read_text(encoding="utf-8"))
    text = text.replace("batch_op", "batch").replace(", schema=None", "")
    if "op.batch_alter_table" in text:
        text = text.replace("op.batch_alter_table", "altered")
        text = text.replace(IMPORTED, f"{IMPORTED}\nfrom shopflow.altering import altered\n", 1)
    file.write_text(text, encoding="utf-8")


def is_to_newest() -> bool:
    """True where the migrations asked for lead to this version's schema."""
    asked = context.get_context().opts.get("destination_rev")
    return asked in ("head", "heads", context.get_head_revision())


def run(connection: Connection) -> None:
    """Run the migrations asked for."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=render_item,
        include_name=is_of_models,
        compare_type=True,
        process_revision_directives=number,
    )
    with context.begin_transaction():
        doubted = take_in.doubted(connection) if is_to_newest() else frozenset()
        context.run_migrations()
        if context.get_context().get_current_revision() == context.get_head_revision():
            missing_summaries.fill(connection)
            missing_cases.fill(connection)
            if is_to_newest():
                take_in.take_in(connection, except_for=doubted)


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    with open_engine(os.environ["SHOPFLOW_DATABASE_URL"]).begin() as opened:
        run(opened)
