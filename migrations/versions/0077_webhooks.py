"""Webhooks: addresses that are told of events, and what was posted to them"""

import sqlalchemy as sa
from alembic import op

revision = "0077"
down_revision = "0076"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "webhook",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.Column("url", sa.String(length=200), nullable=False),
        sa.Column("events", sa.Text(), nullable=False),
        sa.Column("secret_sealed", sa.Text(), nullable=False),
        sa.Column("earlier_secret_sealed", sa.Text(), nullable=False),
        sa.Column("earlier_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("is_on", sa.Boolean(), nullable=False),
        sa.Column("stopped_because", sa.Text(), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("made_by_id", sa.Integer(), nullable=True),
        sa.Column("cursor", sa.BigInteger(), nullable=False),
        sa.Column("claim", sa.String(length=40), nullable=False),
        sa.Column("lease_until", sa.DateTime(timezone=True), nullable=True),
        sa.Column("next_try_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("failing_since", sa.DateTime(timezone=True), nullable=True),
        sa.CheckConstraint("url <> ''", name=op.f("ck_webhook_url_given")),
        sa.CheckConstraint("events <> ''", name=op.f("ck_webhook_events_given")),
        sa.CheckConstraint(
            "(claim = '') = (lease_until IS NULL)", name=op.f("ck_webhook_leased_by_claim")
        ),
        sa.ForeignKeyConstraint(
            ["made_by_id"], ["person.id"], name=op.f("fk_webhook_made_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhook")),
    )
    op.create_table(
        "webhook_delivery",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("webhook_id", sa.Integer(), nullable=False),
        sa.Column("message_id", sa.String(length=60), nullable=False),
        sa.Column("event", sa.String(length=60), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("queued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column(
            "state",
            sa.Enum(
                "queued",
                "to be sent once",
                "delivered",
                "failed",
                "skipped",
                name="deliverystate",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("tries", sa.Integer(), nullable=False),
        sa.Column("tried_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("status", sa.Integer(), nullable=True),
        sa.Column("error", sa.String(length=200), nullable=False),
        sa.ForeignKeyConstraint(
            ["webhook_id"], ["webhook.id"], name=op.f("fk_webhook_delivery_webhook_id_webhook")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_webhook_delivery")),
        sa.UniqueConstraint("message_id", name=op.f("uq_webhook_delivery_message_id")),
    )
    op.create_index(
        op.f("ix_webhook_delivery_webhook_id_webhook_delivery_state"),
        "webhook_delivery",
        ["webhook_id", "state"],
    )


def downgrade() -> None:
    op.drop_table("webhook_delivery")
    op.drop_table("webhook")
