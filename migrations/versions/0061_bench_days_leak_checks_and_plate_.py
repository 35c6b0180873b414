"""Bench days, leak checks and plate exchanges"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0061"
down_revision = "0066"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bench_day",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_id", sa.Integer(), nullable=False),
        sa.Column("day", sa.Date(), nullable=False),
        sa.Column("minutes", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("minutes > 0", name=op.f("ck_bench_day_minutes_positive")),
        sa.ForeignKeyConstraint(
            ["bench_id"], ["bench.id"], name=op.f("fk_bench_day_bench_id_bench")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_bench_day_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bench_day")),
        sa.UniqueConstraint("bench_id", "day", name=op.f("uq_bench_day_bench_id_day")),
    )
    op.create_table(
        "leak_check",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_range_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("pressure_typed", sa.String(length=60), nullable=False),
        sa.Column("pressure_si", sa.Float(), nullable=False),
        sa.Column("leakage_typed", sa.String(length=60), nullable=False),
        sa.Column("leakage_si", sa.Float(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.CheckConstraint("leakage_si >= 0", name=op.f("ck_leak_check_leakage_not_negative")),
        sa.CheckConstraint("pressure_si > 0", name=op.f("ck_leak_check_pressure_positive")),
        sa.ForeignKeyConstraint(
            ["bench_range_id"],
            ["bench_range.id"],
            name=op.f("fk_leak_check_bench_range_id_bench_range"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_leak_check_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_leak_check")),
    )
    op.create_index(op.f("ix_leak_check_bench_range_id"), "leak_check", ["bench_range_id"])

    op.create_table(
        "plate_exchange",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_range_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("plate", sa.String(length=200), nullable=False),
        sa.Column("other_shop", sa.String(length=200), nullable=False),
        sa.Column("measured_on", sa.Date(), nullable=False),
        sa.Column("pressure_typed", sa.String(length=60), nullable=False),
        sa.Column("pressure_si", sa.Float(), nullable=False),
        sa.Column("own_flow_typed", sa.String(length=60), nullable=False),
        sa.Column("own_flow_si", sa.Float(), nullable=False),
        sa.Column("own_uncertainty_typed", sa.String(length=60), nullable=False),
        sa.Column("own_uncertainty_si", sa.Float(), nullable=False),
        sa.Column("their_flow_typed", sa.String(length=60), nullable=False),
        sa.Column("their_flow_si", sa.Float(), nullable=False),
        sa.Column("their_uncertainty_typed", sa.String(length=60), nullable=False),
        sa.Column("their_uncertainty_si", sa.Float(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.CheckConstraint("own_flow_si > 0", name=op.f("ck_plate_exchange_own_flow_positive")),
        sa.CheckConstraint(
            "own_uncertainty_si > 0", name=op.f("ck_plate_exchange_own_uncertainty_positive")
        ),
        sa.CheckConstraint("their_flow_si > 0", name=op.f("ck_plate_exchange_their_flow_positive")),
        sa.CheckConstraint(
            "their_uncertainty_si > 0", name=op.f("ck_plate_exchange_their_uncertainty_positive")
        ),
        sa.ForeignKeyConstraint(
            ["bench_range_id"],
            ["bench_range.id"],
            name=op.f("fk_plate_exchange_bench_range_id_bench_range"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_plate_exchange_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_plate_exchange")),
    )
    op.create_index(op.f("ix_plate_exchange_bench_range_id"), "plate_exchange", ["bench_range_id"])
    with altered("bench_session") as batch:
        batch.add_column(sa.Column("u_day_typed", sa.String(length=60), nullable=True))
        batch.add_column(sa.Column("u_day_si", sa.Float(), nullable=True))

    with altered("shop") as batch:
        batch.add_column(
            sa.Column("bench_day_reminder", sa.Boolean(), server_default=sa.true(), nullable=False)
        )


def downgrade() -> None:
    with altered("shop") as batch:
        batch.drop_column("bench_day_reminder")

    with altered("bench_session") as batch:
        batch.drop_column("u_day_si")
        batch.drop_column("u_day_typed")

    op.drop_table("plate_exchange")
    op.drop_table("leak_check")
    op.drop_table("bench_day")
