"""Altitude of the shop and of flow tests; the air that a calibrated scale is marked for"""

import sqlalchemy as sa
from alembic import op

revision = "0029"
down_revision = "0028"
branch_labels = None
depends_on = None

ADDED = {"shop": "altitude", "bench_session": "altitude", "calibration": "scale_density"}


def upgrade() -> None:
    for table, name in ADDED.items():
        op.add_column(table, sa.Column(f"{name}_typed", sa.String(60), nullable=True))
        op.add_column(table, sa.Column(f"{name}_si", sa.Float(), nullable=True))


def downgrade() -> None:
    for table, name in ADDED.items():
        op.drop_column(table, f"{name}_si")
        op.drop_column(table, f"{name}_typed")
