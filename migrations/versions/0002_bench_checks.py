"""bench checks"""

import sqlalchemy as sa
from alembic import op

revision = "0002"
down_revision = "0001"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bench_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_range_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("plate", sa.String(length=200), nullable=False),
        sa.Column("expected_typed", sa.String(length=60), nullable=False),
        sa.Column("expected_si", sa.Float(), nullable=False),
        sa.Column("indicated_typed", sa.String(length=60), nullable=False),
        sa.Column("indicated_si", sa.Float(), nullable=False),
        sa.Column("factor", sa.String(40), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.CheckConstraint("expected_si > 0", name=op.f("ck_bench_check_expected_positive")),
        sa.CheckConstraint("indicated_si > 0", name=op.f("ck_bench_check_indicated_positive")),
        sa.ForeignKeyConstraint(
            ["bench_range_id"],
            ["bench_range.id"],
            name=op.f("fk_bench_check_bench_range_id_bench_range"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_bench_check_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_check")),
    )
    with op.batch_alter_table("bench_check", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_bench_check_bench_range_id"), ["bench_range_id"], unique=False
        )


def downgrade() -> None:
    with op.batch_alter_table("bench_check", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_bench_check_bench_range_id"))

    op.drop_table("bench_check")
