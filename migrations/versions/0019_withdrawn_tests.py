"""Withdrawn and corrected tests, measurements struck out, tests discarded and kept for a while"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0019"
down_revision = "0018"
branch_labels = None
depends_on = None

TEST_REASON = "(withdrawn_at IS NULL) = (withdrawal_reason = '')"
TEST_REPLACED = "replaced_by_id IS NULL OR withdrawn_at IS NOT NULL"
STRUCK_REASON = "(struck_at IS NULL) = (struck_because = '')"
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    with altered("bench_session") as batch:
        batch.add_column(sa.Column("withdrawn_at", MOMENT))
        batch.add_column(sa.Column("withdrawn_by_id", sa.Integer()))
        batch.add_column(
            sa.Column("withdrawal_reason", sa.String(200), nullable=False, server_default="")
        )
        batch.add_column(sa.Column("replaced_by_id", sa.Integer()))
        batch.create_foreign_key(
            op.f("fk_bench_session_withdrawn_by_id_person"), "person", ["withdrawn_by_id"], ["id"]
        )
        batch.create_foreign_key(
            op.f("fk_bench_session_replaced_by_id_bench_session"),
            "bench_session",
            ["replaced_by_id"],
            ["id"],
        )
        batch.create_check_constraint(op.f("ck_bench_session_withdrawal_has_reason"), TEST_REASON)
        batch.create_check_constraint(op.f("ck_bench_session_replaced_is_withdrawn"), TEST_REPLACED)
        batch.create_index(op.f("ix_bench_session_replaced_by_id"), ["replaced_by_id"])
    with op.batch_alter_table("measurement") as batch:
        batch.add_column(sa.Column("struck_at", MOMENT))
        batch.add_column(sa.Column("struck_by_id", sa.Integer()))
        batch.add_column(
            sa.Column("struck_because", sa.String(200), nullable=False, server_default="")
        )
        batch.create_foreign_key(
            op.f("fk_measurement_struck_by_id_person"), "person", ["struck_by_id"], ["id"]
        )
        batch.create_check_constraint(op.f("ck_measurement_striking_has_reason"), STRUCK_REASON)
    op.create_table(
        "discarded_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(40), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("begun_at", MOMENT, nullable=False),
        sa.Column("kept_at", MOMENT, nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("discarded_at", MOMENT, nullable=False),
        sa.Column("discarded_by_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_discarded_test_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_discarded_test_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["discarded_by_id"],
            ["person.id"],
            name=op.f("fk_discarded_test_discarded_by_id_person"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_discarded_test")),
        sa.UniqueConstraint("key", name=op.f("uq_discarded_test_key")),
    )
    op.create_index(op.f("ix_discarded_test_job_head_id"), "discarded_test", ["job_head_id"])


def downgrade() -> None:
    op.drop_table("discarded_test")
    with op.batch_alter_table("measurement") as batch:
        batch.drop_constraint(op.f("ck_measurement_striking_has_reason"), type_="check")
        batch.drop_constraint(op.f("fk_measurement_struck_by_id_person"), type_="foreignkey")
        for name in ("struck_because", "struck_by_id", "struck_at"):
            batch.drop_column(name)
    # The schema before knows no withdrawing: such tests count in it again; the log tells of them.
    with altered("bench_session") as batch:
        batch.drop_index(op.f("ix_bench_session_replaced_by_id"))
        for name in ("replaced_is_withdrawn", "withdrawal_has_reason"):
            batch.drop_constraint(op.f(f"ck_bench_session_{name}"), type_="check")
        for name in ("replaced_by_id_bench_session", "withdrawn_by_id_person"):
            batch.drop_constraint(op.f(f"fk_bench_session_{name}"), type_="foreignkey")
        for name in ("replaced_by_id", "withdrawal_reason", "withdrawn_by_id", "withdrawn_at"):
            batch.drop_column(name)
