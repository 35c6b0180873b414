"""Waits, opening hours, calendar feeds, and the search key"""

import sqlalchemy as sa
from alembic import op

revision = "0010"
down_revision = "0009"
branch_labels = None
depends_on = None

WEEKDAYS = ("monday", "tuesday", "wednesday", "thursday", "friday", "saturday", "sunday")


def upgrade() -> None:
    op.create_table(
        "wait",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column(
            "wait_for",
            sa.Enum(
                "parts",
                "the customer",
                "outside work",
                name="waitfor",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("what", sa.String(200), nullable=False),
        sa.Column("since", sa.Date(), nullable=False),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("written_by_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("what <> ''", name=op.f("ck_wait_what_given")),
        sa.CheckConstraint("expected_on >= since", name=op.f("ck_wait_expected_after_since")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_wait_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["written_by_id"], ["person.id"], name=op.f("fk_wait_written_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wait")),
    )
    op.create_index(op.f("ix_wait_job_head_id"), "wait", ["job_head_id"])
    op.create_table(
        "opening_hours",
        sa.Column("id", sa.Integer(), nullable=False),
        *(sa.Column(day, sa.String(40), nullable=False) for day in WEEKDAYS),
        sa.Column("opens_at", sa.String(5), nullable=False),
        sa.Column("people_at_bench", sa.Integer(), nullable=False),
        sa.Column("closed_days", sa.Text(), nullable=False),
        sa.Column("calendar_names", sa.Boolean(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_opening_hours_only_one")),
        sa.CheckConstraint("people_at_bench >= 1", name=op.f("ck_opening_hours_someone_at_bench")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_opening_hours")),
    )
    op.create_table(
        "calendar_feed",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("revoked_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_calendar_feed_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_calendar_feed")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_calendar_feed_token_sha256")),
    )
    op.create_index(op.f("ix_calendar_feed_person_id"), "calendar_feed", ["person_id"])
    op.add_column(
        "person", sa.Column("search_key", sa.Boolean(), nullable=False, server_default=sa.true())
    )


def downgrade() -> None:
    op.drop_column("person", "search_key")
    op.drop_table("calendar_feed")
    op.drop_table("opening_hours")
    op.drop_table("wait")
