"""A state for the shop's own tests of a casting"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0047"
down_revision = "0044"
branch_labels = None
depends_on = None

BEFORE = (
    "booked in", "quoted", "approved", "in work", "ready", "collected", "shipped", "cancelled",
)  # fmt: skip
CHECK = "ck_job_jobstate"


def upgrade() -> None:
    _allow(*BEFORE, "development")


def downgrade() -> None:
    # The nearest states of the schema before: still worked on, or ended without a customer.
    op.execute(
        sa.text(
            "UPDATE job SET state = 'cancelled', cancel_reason = 'development ended' "
            "WHERE state = 'development' AND closed_at IS NOT NULL"
        )
    )
    op.execute(sa.text("UPDATE job SET state = 'in work' WHERE state = 'development'"))
    _allow(*BEFORE)


def _allow(*states: str) -> None:
    listed = ", ".join(f"'{state}'" for state in states)
    with altered("job") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), f"state IN ({listed})")
