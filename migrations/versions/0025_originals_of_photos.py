"""The original of a photo beside the one made from it"""

import sqlalchemy as sa
from alembic import op

revision = "0025"
down_revision = "0024"
branch_labels = None
depends_on = None

OF_ORIGINAL = "(original_sha256 = '') = (original_size = 0)"


def upgrade() -> None:
    with op.batch_alter_table("job_file") as table:
        table.add_column(
            sa.Column("original_sha256", sa.String(64), nullable=False, server_default="")
        )
        table.add_column(
            sa.Column("original_size", sa.Integer(), nullable=False, server_default="0")
        )
        table.create_check_constraint(op.f("ck_job_file_original_size"), OF_ORIGINAL)


def downgrade() -> None:
    with op.batch_alter_table("job_file") as table:
        table.drop_constraint(op.f("ck_job_file_original_size"), type_="check")
        table.drop_column("original_size")
        table.drop_column("original_sha256")
