"""Fixtures and set-ups of flow tests"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0060"
down_revision = "0059"
branch_labels = None
depends_on = None

PARTS = ("sleeve", "inlet", "stub", "manifold", "carburetor", "header", "spark_plug", "guide")


def upgrade() -> None:
    op.create_table(
        "fixture",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "bore sleeve",
                "inlet plate",
                "clay inlet",
                "exhaust stub",
                "manifold",
                "carburetor",
                "header",
                "spark plug",
                "guide",
                name="fixturekind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("name", sa.String(length=60), nullable=False),
        sa.Column("bore_typed", sa.String(length=60), nullable=True),
        sa.Column("bore_si", sa.Float(), nullable=True),
        sa.Column("length_typed", sa.String(length=60), nullable=True),
        sa.Column("length_si", sa.Float(), nullable=True),
        sa.Column("radius_typed", sa.String(length=60), nullable=True),
        sa.Column("radius_si", sa.Float(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("photo_sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("photo_small_sha256", sa.String(length=64), server_default="", nullable=False),
        sa.Column("archived_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(photo_sha256 = '') = (photo_small_sha256 = '')", name=op.f("ck_fixture_photo_whole")
        ),
        sa.CheckConstraint("name <> ''", name=op.f("ck_fixture_named")),
        sa.CheckConstraint("bore_si > 0", name=op.f("ck_fixture_bore_positive")),
        sa.CheckConstraint("length_si > 0", name=op.f("ck_fixture_length_positive")),
        sa.CheckConstraint("radius_si > 0", name=op.f("ck_fixture_radius_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_fixture")),
        sa.UniqueConstraint("kind", "name", name=op.f("uq_fixture_kind_name")),
    )
    op.create_table(
        "set_up_confirmation",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("other_id", sa.Integer(), nullable=False),
        sa.Column("is_same", sa.Boolean(), nullable=False),
        sa.Column("reason", sa.String(length=200), nullable=False),
        sa.Column("confirmed_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("confirmed_by_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_set_up_confirmation_has_reason")),
        sa.CheckConstraint("session_id <> other_id", name=op.f("ck_set_up_confirmation_of_two")),
        sa.ForeignKeyConstraint(
            ["confirmed_by_id"],
            ["person.id"],
            name=op.f("fk_set_up_confirmation_confirmed_by_id_person"),
        ),
        sa.ForeignKeyConstraint(
            ["other_id"],
            ["bench_session.id"],
            name=op.f("fk_set_up_confirmation_other_id_bench_session"),
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_set_up_confirmation_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_up_confirmation")),
        sa.UniqueConstraint(
            "session_id", "other_id", name=op.f("uq_set_up_confirmation_session_id_other_id")
        ),
    )
    op.create_index(op.f("ix_set_up_confirmation_other_id"), "set_up_confirmation", ["other_id"])
    with altered("bench_session") as table:
        for name in PARTS:
            table.add_column(
                sa.Column(f"set_up_{name}", sa.String(200), server_default="", nullable=False)
            )


def downgrade() -> None:
    with altered("bench_session") as table:
        for name in PARTS:
            table.drop_column(f"set_up_{name}")
    op.drop_table("set_up_confirmation")
    op.drop_table("fixture")
