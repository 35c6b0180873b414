"""Readings that a program took at a bench, with their raw samples"""

import sqlalchemy as sa
from alembic import op

revision = "0064"
down_revision = "0063"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "capture",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("entry_key", sa.String(40), nullable=False),
        sa.Column("bench_id", sa.Integer(), nullable=True),
        sa.Column("token_id", sa.Integer(), nullable=True),
        sa.Column("taken_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("received_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("lift", sa.String(60), nullable=False),
        sa.Column("cells", sa.JSON(), nullable=False),
        sa.Column("channels", sa.JSON(), nullable=False),
        sa.Column("doubts", sa.JSON(), nullable=False),
        sa.CheckConstraint("entry_key <> ''", name=op.f("ck_capture_of_a_test")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_capture_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(["bench_id"], ["bench.id"], name=op.f("fk_capture_bench_id_bench")),
        sa.ForeignKeyConstraint(
            ["token_id"], ["api_token.id"], name=op.f("fk_capture_token_id_api_token")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_capture")),
    )
    for column in ("job_head_id", "entry_key"):
        op.create_index(op.f(f"ix_capture_{column}"), "capture", [column])


def downgrade() -> None:
    op.drop_table("capture")
