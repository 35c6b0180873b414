"""credit notes in part, several recipients of a message, what a private link holds back"""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None

REFUSAL = "an issued invoice cannot be changed or deleted"
LINES = """
INSERT INTO invoice_line (invoice_id, operation_id, position, price)
SELECT note.id, line.operation_id, line.position, line.price
FROM invoice AS note JOIN invoice_line AS line ON line.invoice_id = note.credits_id
"""
IN_PART = """
SELECT count(*) FROM invoice AS note JOIN invoice AS credited ON credited.id = note.credits_id
WHERE note.total <> credited.total
"""
OF_NOTES = (
    "DELETE FROM invoice_line WHERE invoice_id IN "
    "(SELECT id FROM invoice WHERE credits_id IS NOT NULL)"
)


def upgrade() -> None:
    with op.batch_alter_table("invoice", schema=None) as batch_op:
        batch_op.drop_constraint(op.f("uq_invoice_credits_id"), type_="unique")
        batch_op.create_index(op.f("ix_invoice_credits_id"), ["credits_id"])
    _freeze_rebuilt()
    op.execute(LINES)
    for name in ("also_to", "cc"):
        op.add_column(
            "outgoing_mail", sa.Column(name, sa.Text(), nullable=False, server_default="")
        )
    op.add_column(
        "customer_link", sa.Column("held_back", sa.JSON(), nullable=False, server_default="{}")
    )


def downgrade() -> None:
    if op.get_bind().scalar(sa.text(IN_PART)):
        raise RuntimeError(
            "credit notes in part are on file; the schema before has no place for them"
        )
    op.drop_column("customer_link", "held_back")
    op.drop_column("outgoing_mail", "cc")
    op.drop_column("outgoing_mail", "also_to")
    _thaw_lines()
    op.execute(OF_NOTES)
    _freeze_lines()
    with op.batch_alter_table("invoice", schema=None) as batch_op:
        batch_op.drop_index(op.f("ix_invoice_credits_id"))
        batch_op.create_unique_constraint(op.f("uq_invoice_credits_id"), ["credits_id"])
    _freeze_rebuilt()


def _is_sqlite() -> bool:
    return op.get_bind().dialect.name == "sqlite"


def _freeze_rebuilt() -> None:
    """Make the triggers again that SQLite dropped with the table it rebuilt."""
    if _is_sqlite():
        for verb in ("UPDATE", "DELETE"):
            op.execute(_trigger("invoice", verb))


def _trigger(table: str, verb: str) -> str:
    return (
        f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
        f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
    )


def _thaw_lines() -> None:
    if _is_sqlite():
        op.execute("DROP TRIGGER invoice_line_no_delete")
    else:
        op.execute("ALTER TABLE invoice_line DISABLE TRIGGER invoice_line_frozen")


def _freeze_lines() -> None:
    if _is_sqlite():
        op.execute(_trigger("invoice_line", "DELETE"))
    else:
        op.execute("ALTER TABLE invoice_line ENABLE TRIGGER invoice_line_frozen")
