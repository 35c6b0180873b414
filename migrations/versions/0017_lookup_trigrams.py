"""An index of trigrams over what past jobs are looked up by"""

import logging

from alembic import op
from sqlalchemy import text
from sqlalchemy.exc import ProgrammingError

revision = "0017"
down_revision = "0016"
branch_labels = None
depends_on = None

LOG = logging.getLogger("alembic.runtime.migration")
ADD = """
INSERT INTO lookup_trigrams (rowid, numbers, notes)
VALUES (new.job_head_id, new.numbers, new.notes);
"""
REMOVE = """
INSERT INTO lookup_trigrams (lookup_trigrams, rowid, numbers, notes)
VALUES ('delete', old.job_head_id, old.numbers, old.notes);
"""
TRIGGERS = {"INSERT": ADD, "DELETE": REMOVE, "UPDATE": REMOVE + ADD}
IN_POSTGRESQL = (
    "CREATE EXTENSION IF NOT EXISTS pg_trgm",
    "CREATE INDEX lookup_trigrams ON lookup_text "
    "USING gin (numbers gin_trgm_ops, notes gin_trgm_ops)",
)


def upgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        return upgrade_postgresql()
    op.execute(
        "CREATE VIRTUAL TABLE lookup_trigrams USING fts5 (numbers, notes, "
        "content='lookup_text', content_rowid='job_head_id', tokenize='trigram')"
    )
    op.execute("INSERT INTO lookup_trigrams (lookup_trigrams) VALUES ('rebuild')")
    for verb, change in TRIGGERS.items():
        op.execute(
            f"CREATE TRIGGER lookup_text_{verb.lower()} AFTER {verb} ON lookup_text "
            f"BEGIN {change} END"
        )


def upgrade_postgresql() -> None:
    """Where the extension is not there, or not for this account, look-ups go without, slower."""
    connection = op.get_bind()
    there = text("SELECT EXISTS (SELECT FROM pg_available_extensions WHERE name = 'pg_trgm')")
    if connection.scalar(there):
        try:
            with connection.begin_nested():
                for statement in IN_POSTGRESQL:
                    connection.execute(text(statement))
        except ProgrammingError as error:
            LOG.warning("look-ups go without their index: %s", error.orig)


def downgrade() -> None:
    if op.get_bind().dialect.name == "postgresql":
        # The extension stays: another may have come to use it.
        op.execute("DROP INDEX IF EXISTS lookup_trigrams")
        return
    for verb in TRIGGERS:
        op.execute(f"DROP TRIGGER lookup_text_{verb.lower()}")
    op.execute("DROP TABLE lookup_trigrams")
