"""Cams of engine types and of jobs"""

import sqlalchemy as sa
from alembic import op

revision = "0033"
down_revision = "0032"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "cam",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=True),
        sa.Column("job_id", sa.Integer(), nullable=True),
        sa.Column("name", sa.String(200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("archived_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("bore_typed", sa.String(60), nullable=False),
        sa.Column("bore_si", sa.Float(), nullable=False),
        sa.Column("stroke_typed", sa.String(60), nullable=False),
        sa.Column("stroke_si", sa.Float(), nullable=False),
        sa.Column("rod_length_typed", sa.String(60), nullable=True),
        sa.Column("rod_length_si", sa.Float(), nullable=True),
        sa.Column("speed_typed", sa.String(60), nullable=False),
        sa.Column("speed_si", sa.Float(), nullable=False),
        sa.Column("compression_ratio", sa.String(40), nullable=True),
        sa.Column("intake_pressure_typed", sa.String(60), nullable=True),
        sa.Column("intake_pressure_si", sa.Float(), nullable=True),
        sa.Column("exhaust_pressure_typed", sa.String(60), nullable=True),
        sa.Column("exhaust_pressure_si", sa.Float(), nullable=True),
        sa.Column("intake_temperature_typed", sa.String(60), nullable=True),
        sa.Column("intake_temperature_si", sa.Float(), nullable=True),
        sa.Column("intake_centreline_typed", sa.String(60), nullable=False),
        sa.Column("intake_centreline_si", sa.Float(), nullable=False),
        sa.Column("intake_angles", sa.JSON(), nullable=False),
        sa.Column("intake_lifts", sa.JSON(), nullable=False),
        sa.Column("intake_lift_unit", sa.String(10), nullable=False),
        sa.Column("intake_duration_typed", sa.String(60), nullable=True),
        sa.Column("intake_duration_si", sa.Float(), nullable=True),
        sa.Column("intake_max_lobe_lift_typed", sa.String(60), nullable=True),
        sa.Column("intake_max_lobe_lift_si", sa.Float(), nullable=True),
        sa.Column("intake_rocker_ratio", sa.String(40), nullable=False),
        sa.Column("intake_lash_typed", sa.String(60), nullable=False),
        sa.Column("intake_lash_si", sa.Float(), nullable=False),
        sa.Column("exhaust_centreline_typed", sa.String(60), nullable=True),
        sa.Column("exhaust_centreline_si", sa.Float(), nullable=True),
        sa.Column("exhaust_angles", sa.JSON(), nullable=False),
        sa.Column("exhaust_lifts", sa.JSON(), nullable=False),
        sa.Column("exhaust_lift_unit", sa.String(10), nullable=False),
        sa.Column("exhaust_duration_typed", sa.String(60), nullable=True),
        sa.Column("exhaust_duration_si", sa.Float(), nullable=True),
        sa.Column("exhaust_max_lobe_lift_typed", sa.String(60), nullable=True),
        sa.Column("exhaust_max_lobe_lift_si", sa.Float(), nullable=True),
        sa.Column("exhaust_rocker_ratio", sa.String(40), nullable=True),
        sa.Column("exhaust_lash_typed", sa.String(60), nullable=True),
        sa.Column("exhaust_lash_si", sa.Float(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(engine_type_id IS NULL) <> (job_id IS NULL)", name=op.f("ck_cam_of_one")
        ),
        sa.CheckConstraint("bore_si > 0", name=op.f("ck_cam_bore_positive")),
        sa.CheckConstraint("exhaust_lash_si >= 0", name=op.f("ck_cam_exhaust_lash_not_negative")),
        sa.CheckConstraint("intake_lash_si >= 0", name=op.f("ck_cam_intake_lash_not_negative")),
        sa.CheckConstraint("speed_si > 0", name=op.f("ck_cam_speed_positive")),
        sa.CheckConstraint("stroke_si > 0", name=op.f("ck_cam_stroke_positive")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"], name=op.f("fk_cam_engine_type_id_engine_type")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_cam_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_cam")),
    )
    for name in ("engine_type_id", "job_id"):
        op.create_index(op.f(f"ix_cam_{name}"), "cam", [name])


def downgrade() -> None:
    op.drop_table("cam")
