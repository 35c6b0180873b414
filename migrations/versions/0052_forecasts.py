"""Gains by the steps they came from, forecasts as they were made, and forecasts on quotes"""

import sqlalchemy as sa
from alembic import op

revision = "0052"
down_revision = "0049"
branch_labels = None
depends_on = None

SIDE = "side IN ('intake', 'exhaust')"
PART = "part IN ('whole', 'low', 'mid', 'high')"


def upgrade() -> None:
    op.create_table(
        "gain_case",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("steps", sa.String(200), nullable=False),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("part", sa.String(10), nullable=False),
        sa.Column("log_gain", sa.Double(), nullable=False),
        sa.Column("standard_uncertainty", sa.Double(), nullable=False),
        sa.Column("expanded_uncertainty", sa.Double(), nullable=False),
        sa.Column("ports", sa.Integer(), nullable=False),
        sa.Column("tests", sa.JSON(), nullable=False),
        sa.Column("saved_at", sa.DateTime(timezone=True), nullable=False),
        sa.CheckConstraint(SIDE, name=op.f("ck_gain_case_side")),
        sa.CheckConstraint(PART, name=op.f("ck_gain_case_part")),
        sa.CheckConstraint("ports >= 1", name=op.f("ck_gain_case_ports_counted")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_gain_case_job_head_id_job_head")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_gain_case")),
        sa.UniqueConstraint(
            "job_head_id", "steps", "side", "part",
            name=op.f("uq_gain_case_job_head_id_steps_side_part"),
        ),
    )  # fmt: skip
    op.create_index(
        op.f("ix_gain_case_steps_side_part_saved_at"),
        "gain_case",
        ["steps", "side", "part", "saved_at"],
    )
    op.create_table(
        "forecast",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("steps", sa.String(200), nullable=False),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("part", sa.String(10), nullable=False),
        sa.Column("low", sa.Double(), nullable=False),
        sa.Column("median", sa.Double(), nullable=False),
        sa.Column("high", sa.Double(), nullable=False),
        sa.Column("cases", sa.Integer(), nullable=False),
        sa.Column("same_type", sa.Integer(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(SIDE, name=op.f("ck_forecast_side")),
        sa.CheckConstraint(PART, name=op.f("ck_forecast_part")),
        sa.CheckConstraint(
            "low <= median AND median <= high", name=op.f("ck_forecast_in_order")
        ),
        sa.CheckConstraint(
            "cases >= same_type AND same_type >= 0", name=op.f("ck_forecast_cases_counted")
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_forecast_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_forecast_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_forecast")),
        sa.UniqueConstraint(
            "job_head_id", "steps", "side", "part",
            name=op.f("uq_forecast_job_head_id_steps_side_part"),
        ),
    )  # fmt: skip
    op.create_index(op.f("ix_forecast_made_at"), "forecast", ["made_at"])
    op.add_column(
        "house_style",
        sa.Column("quote_forecasts", sa.Boolean(), nullable=False, server_default=sa.false()),
    )


def downgrade() -> None:
    op.drop_column("house_style", "quote_forecasts")
    op.drop_table("forecast")
    op.drop_table("gain_case")
