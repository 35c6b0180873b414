"""Velocity maps: sections of ports traversed with a pitot probe"""

import sqlalchemy as sa
from alembic import op

revision = "0071"
down_revision = "0070"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "velocity_map",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("lift_typed", sa.String(length=60), nullable=False),
        sa.Column("lift_si", sa.Float(), nullable=False),
        sa.Column("place", sa.String(length=200), nullable=False),
        sa.Column(
            "outline",
            sa.Enum(
                "round or oval",
                "rectangle",
                name="outline",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("width_typed", sa.String(length=60), nullable=False),
        sa.Column("width_si", sa.Float(), nullable=False),
        sa.Column("height_typed", sa.String(length=60), nullable=False),
        sa.Column("height_si", sa.Float(), nullable=False),
        sa.Column("arms", sa.Integer(), nullable=False),
        sa.Column("rings", sa.Integer(), nullable=False),
        sa.Column("pressure_unit", sa.String(length=10), nullable=False),
        sa.Column("middle", sa.String(length=40), nullable=False),
        sa.Column("pressures", sa.JSON(), nullable=False),
        sa.Column("coefficient", sa.String(length=40), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("entered_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("lift_si > 0", name=op.f("ck_velocity_map_lift_positive")),
        sa.CheckConstraint("width_si > 0", name=op.f("ck_velocity_map_width_positive")),
        sa.CheckConstraint("height_si > 0", name=op.f("ck_velocity_map_height_positive")),
        sa.CheckConstraint("arms >= 1", name=op.f("ck_velocity_map_arms_counted")),
        sa.CheckConstraint("rings >= 1", name=op.f("ck_velocity_map_rings_counted")),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_velocity_map_person_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_velocity_map_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_velocity_map")),
    )
    op.create_index(op.f("ix_velocity_map_session_id"), "velocity_map", ["session_id"])


def downgrade() -> None:
    op.drop_table("velocity_map")
