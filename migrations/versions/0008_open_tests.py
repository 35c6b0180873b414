"""Flow tests that are being taken"""

import sqlalchemy as sa
from alembic import op

revision = "0008"
down_revision = "0007"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "open_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(40), nullable=False),
        sa.Column("writer", sa.String(40), nullable=False),
        sa.Column("count", sa.Integer(), nullable=False),
        sa.Column("typed", sa.JSON(), nullable=False),
        sa.Column("begun_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("kept_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_open_test_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_open_test_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_open_test")),
        sa.UniqueConstraint("job_head_id", name=op.f("uq_open_test_job_head_id")),
        sa.UniqueConstraint("key", name=op.f("uq_open_test_key")),
    )
    with op.batch_alter_table("bench_session") as batch:
        batch.add_column(sa.Column("entry_key", sa.String(40), nullable=True))
        batch.create_unique_constraint(op.f("uq_bench_session_entry_key"), ["entry_key"])


def downgrade() -> None:
    with op.batch_alter_table("bench_session") as batch:
        batch.drop_constraint(op.f("uq_bench_session_entry_key"), type_="unique")
        batch.drop_column("entry_key")
    op.drop_table("open_test")
