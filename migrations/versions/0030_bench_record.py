"""Division of a range's scale, and the gauge its test pressure is read from"""

import sqlalchemy as sa
from alembic import op

revision = "0030"
down_revision = "0029"
branch_labels = None
depends_on = None

QUANTITIES = ("division", "gauge_accuracy")


def upgrade() -> None:
    for name in QUANTITIES:
        op.add_column("bench_range", sa.Column(f"{name}_typed", sa.String(60), nullable=True))
        op.add_column("bench_range", sa.Column(f"{name}_si", sa.Float(), nullable=True))
    op.add_column(
        "bench_range", sa.Column("gauge_mark", sa.String(200), nullable=False, server_default="")
    )


def downgrade() -> None:
    op.drop_column("bench_range", "gauge_mark")
    for name in QUANTITIES:
        op.drop_column("bench_range", f"{name}_si")
        op.drop_column("bench_range", f"{name}_typed")
