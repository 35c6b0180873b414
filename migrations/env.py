"""Alembic's entry: runs migrations on the connection it is given, or on SHOPFLOW_DATABASE_URL."""

import os
from typing import Any, Literal

from alembic import context
from alembic.autogenerate.api import AutogenContext
from sqlalchemy import Connection

from shopflow.database import open_engine
from shopflow.models import Base
from shopflow.models.base import DecimalsText, DecimalText, Money, UtcDateTime
from shopflow.models.lookup_text import TRIGRAMS
from shopflow.models.session_stamp import SESSION_STAMP
from shopflow.services.bench import missing_summaries

PLAIN_TYPES = {
    UtcDateTime: "sa.DateTime(timezone=True)",
    Money: "sa.BigInteger()",
    DecimalText: "sa.String(40)",
    DecimalsText: "sa.Text()",
}


def render_item(kind: str, item: Any, autogen: AutogenContext) -> str | Literal[False]:
    """Write a migration's column types without the app's own classes, which will change."""
    return PLAIN_TYPES.get(type(item), False) if kind == "type" else False


def is_of_models(name: str | None, kind: str, parents: Any) -> bool:
    """Whether a table or index is the models' own: what triggers keep is the migrations'."""
    return not (name or "").startswith((TRIGRAMS, SESSION_STAMP))


def run(connection: Connection) -> None:
    """Run the migrations asked for."""
    context.configure(
        connection=connection,
        target_metadata=Base.metadata,
        render_as_batch=True,
        render_item=render_item,
        include_name=is_of_models,
        compare_type=True,
    )
    with context.begin_transaction():
        context.run_migrations()
        if context.get_context().get_current_revision() == context.get_head_revision():
            missing_summaries.fill(connection)


given = context.config.attributes.get("connection")
if given is not None:
    run(given)
else:
    with open_engine(os.environ["SHOPFLOW_DATABASE_URL"]).begin() as opened:
        run(opened)
