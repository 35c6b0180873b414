"""A practice job, and the list of the first days put away"""

import sqlalchemy as sa
from alembic import op

revision = "0049"
down_revision = "0045"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "job",
        sa.Column("is_practice", sa.Boolean(), nullable=False, server_default=sa.false()),
    )
    op.add_column(
        "shop",
        sa.Column("first_days_put_away", sa.Boolean(), nullable=False, server_default=sa.false()),
    )


def downgrade() -> None:
    op.drop_column("shop", "first_days_put_away")
    op.drop_column("job", "is_practice")
