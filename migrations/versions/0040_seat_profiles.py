"""Seat profiles: the cuts of seats of heads, and the usual ones of engine types"""

import sqlalchemy as sa
from alembic import op

revision = "0040"
down_revision = "0043"
branch_labels = None
depends_on = None

WHEN = sa.Enum("before", "after", name="when", native_enum=False, create_constraint=True, length=30)


def upgrade() -> None:
    op.create_table(
        "seat_profile",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=True),
        sa.Column("job_head_id", sa.Integer(), nullable=True),
        sa.Column("cylinder", sa.Integer(), nullable=True),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("valve", sa.Integer(), nullable=True),
        sa.Column("taken", WHEN, nullable=False),
        sa.Column("head_diameter_typed", sa.String(60), nullable=True),
        sa.Column("head_diameter_si", sa.Float(), nullable=True),
        sa.Column("margin_typed", sa.String(60), nullable=True),
        sa.Column("margin_si", sa.Float(), nullable=True),
        sa.Column("throat_diameter_typed", sa.String(60), nullable=True),
        sa.Column("throat_diameter_si", sa.Float(), nullable=True),
        sa.Column("contact_position_typed", sa.String(60), nullable=True),
        sa.Column("contact_position_si", sa.Float(), nullable=True),
        sa.Column("notes", sa.String(200), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(engine_type_id IS NULL) <> (job_head_id IS NULL)", name=op.f("ck_seat_profile_of_one")
        ),
        sa.CheckConstraint(
            "(job_head_id IS NULL) = (cylinder IS NULL) AND (cylinder IS NULL) = (valve IS NULL)",
            name=op.f("ck_seat_profile_of_a_valve"),
        ),
        sa.CheckConstraint("cylinder >= 1", name=op.f("ck_seat_profile_cylinder_counted")),
        sa.CheckConstraint("valve >= 1", name=op.f("ck_seat_profile_valve_counted")),
        sa.CheckConstraint("side IN ('intake', 'exhaust')", name=op.f("ck_seat_profile_side")),
        sa.CheckConstraint(
            "head_diameter_si > 0", name=op.f("ck_seat_profile_head_diameter_positive")
        ),
        sa.CheckConstraint("margin_si >= 0", name=op.f("ck_seat_profile_margin_not_negative")),
        sa.CheckConstraint("throat_diameter_si > 0", name=op.f("ck_seat_profile_throat_positive")),
        sa.ForeignKeyConstraint(
            ["engine_type_id"],
            ["engine_type.id"],
            name=op.f("fk_seat_profile_engine_type_id_engine_type"),
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_seat_profile_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_seat_profile_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seat_profile")),
        sa.UniqueConstraint(
            "job_head_id",
            "cylinder",
            "side",
            "valve",
            "taken",
            name=op.f("uq_seat_profile_job_head_id_cylinder_side_valve_taken"),
        ),
        sa.UniqueConstraint(
            "engine_type_id", "side", name=op.f("uq_seat_profile_engine_type_id_side")
        ),
    )
    op.create_table(
        "seat_cut",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("profile_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("angle_typed", sa.String(60), nullable=False),
        sa.Column("angle_si", sa.Float(), nullable=False),
        sa.Column("width_typed", sa.String(60), nullable=True),
        sa.Column("width_si", sa.Float(), nullable=True),
        sa.Column("outer_diameter_typed", sa.String(60), nullable=True),
        sa.Column("outer_diameter_si", sa.Float(), nullable=True),
        sa.Column("blend_radius_typed", sa.String(60), nullable=True),
        sa.Column("blend_radius_si", sa.Float(), nullable=True),
        sa.Column("tool", sa.String(200), nullable=False),
        sa.Column("is_contact", sa.Boolean(), nullable=False),
        sa.CheckConstraint("angle_si > 0 AND angle_si < 1.5708", name=op.f("ck_seat_cut_angle")),
        sa.CheckConstraint("width_si > 0", name=op.f("ck_seat_cut_width_positive")),
        sa.CheckConstraint(
            "outer_diameter_si > 0", name=op.f("ck_seat_cut_outer_diameter_positive")
        ),
        sa.CheckConstraint("blend_radius_si > 0", name=op.f("ck_seat_cut_blend_radius_positive")),
        sa.ForeignKeyConstraint(
            ["profile_id"], ["seat_profile.id"], name=op.f("fk_seat_cut_profile_id_seat_profile")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_seat_cut")),
        sa.UniqueConstraint("profile_id", "position", name=op.f("uq_seat_cut_profile_id_position")),
    )


def downgrade() -> None:
    op.drop_table("seat_cut")
    op.drop_table("seat_profile")
