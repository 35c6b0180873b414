"""Swirl and tumble tests: a meter of the air's rotation beside a flow test"""

import sqlalchemy as sa
from alembic import op

revision = "0076"
down_revision = "0075"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "swirl_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column(
            "motion",
            sa.Enum(
                "swirl",
                "tumble",
                name="swirlmotion",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column(
            "meter_kind",
            sa.Enum(
                "torque of a honeycomb",
                "speed of a vane wheel",
                name="swirlmeterkind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("meter", sa.String(length=200), nullable=False),
        sa.Column("bore_typed", sa.String(length=60), nullable=False),
        sa.Column("bore_si", sa.Float(), nullable=False),
        sa.Column("adapter", sa.String(length=200), nullable=False),
        sa.Column(
            "rotation",
            sa.Enum(
                "clockwise",
                "counterclockwise",
                name="rotation",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("pressure_typed", sa.String(length=60), nullable=True),
        sa.Column("pressure_si", sa.Float(), nullable=True),
        sa.Column("reading_unit", sa.String(length=10), nullable=False),
        sa.Column("readings", sa.JSON(), nullable=False),
        sa.Column("efficiency", sa.String(length=40), nullable=True),
        sa.Column("efficiency_uncertainty", sa.String(length=40), nullable=True),
        sa.Column("division", sa.String(length=40), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("bore_si > 0", name=op.f("ck_swirl_test_bore_positive")),
        sa.CheckConstraint("pressure_si > 0", name=op.f("ck_swirl_test_pressure_positive")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_swirl_test_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_swirl_test_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_swirl_test")),
    )
    op.create_index(op.f("ix_swirl_test_session_id"), "swirl_test", ["session_id"])


def downgrade() -> None:
    op.drop_table("swirl_test")
