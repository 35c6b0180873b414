"""A state for messages that cannot be put together"""

import sqlalchemy as sa
from alembic import op

revision = "0026"
down_revision = "0025"
branch_labels = None
depends_on = None

BEFORE = ("queued", "sending", "sent", "may have been sent", "failed", "given up", "cancelled")
CHECK = "ck_outgoing_mail_mailstate"


def upgrade() -> None:
    _allow(*BEFORE, "set aside")


def downgrade() -> None:
    # The nearest state of the schema before: it did not go out, and waits for a person.
    op.execute(sa.text("UPDATE outgoing_mail SET state = 'failed' WHERE state = 'set aside'"))
    _allow(*BEFORE)


def _allow(*states: str) -> None:
    listed = ", ".join(f"'{state}'" for state in states)
    with op.batch_alter_table("outgoing_mail") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), f"state IN ({listed})")
