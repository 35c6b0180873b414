"""credit notes in part, several recipients of a message, what a private link holds back"""

import sqlalchemy as sa
from alembic import op

revision = "0015"
down_revision = "0014"
branch_labels = None
depends_on = None

REFUSAL = "an issued invoice cannot be changed or deleted"
LINES = """
INSERT INTO invoice_line (invoice_id, operation_id, position, price)
SELECT note.id, line.operation_id, line.position, line.price
FROM invoice AS note JOIN invoice_line AS line ON line.invoice_id = note.credits_id
WHERE NOT EXISTS (SELECT 1 FROM invoice_line AS own WHERE own.invoice_id = note.id)
"""
SEVERAL = """
SELECT credits_id FROM invoice WHERE credits_id IS NOT NULL
GROUP BY credits_id HAVING count(*) > 1
"""


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
    # The lines of credit notes stay: the schema before has room for them and does not look.
    if op.get_bind().scalar(sa.text(SEVERAL)) is not None:
        raise RuntimeError("an invoice has several credit notes; the schema before allows one")
    op.drop_column("customer_link", "held_back")
    op.drop_column("outgoing_mail", "cc")
    op.drop_column("outgoing_mail", "also_to")
    with op.batch_alter_table("invoice", schema=None) as batch_op:
        batch_op.drop_index(op.f("ix_invoice_credits_id"))
        batch_op.create_unique_constraint(op.f("uq_invoice_credits_id"), ["credits_id"])
    _freeze_rebuilt()


def _freeze_rebuilt() -> None:
    """Make the triggers again that SQLite dropped with the table it rebuilt."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER invoice_no_{verb.lower()} BEFORE {verb} ON invoice "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
