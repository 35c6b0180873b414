"""Saved lists of lifts"""

import sqlalchemy as sa
from alembic import op

revision = "0016"
down_revision = "0015"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "lift_list",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("unit", sa.String(10), nullable=False),
        sa.Column("lifts", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_lift_list")),
        sa.UniqueConstraint("name", name=op.f("uq_lift_list_name")),
    )


def downgrade() -> None:
    op.drop_table("lift_list")
