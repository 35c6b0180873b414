"""Reason why a head leaves with nothing done to it"""

import sqlalchemy as sa
from alembic import op

revision = "0043"
down_revision = "0038"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "job_head",
        sa.Column("untouched_because", sa.Text(), nullable=False, server_default=""),
    )


def downgrade() -> None:
    op.drop_column("job_head", "untouched_because")
