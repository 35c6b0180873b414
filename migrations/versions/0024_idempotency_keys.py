"""Keys of forms that were saved, so that a repeat is answered with the first result"""

import sqlalchemy as sa
from alembic import op

revision = "0024"
down_revision = "0023"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "idempotency_key",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("key_sha256", sa.String(64), nullable=False),
        sa.Column("content_sha256", sa.String(64), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_idempotency_key_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_idempotency_key")),
        sa.UniqueConstraint(
            "person_id", "key_sha256", name=op.f("uq_idempotency_key_person_id_key_sha256")
        ),
    )
    op.create_index(op.f("ix_idempotency_key_at"), "idempotency_key", ["at"])


def downgrade() -> None:
    op.drop_table("idempotency_key")
