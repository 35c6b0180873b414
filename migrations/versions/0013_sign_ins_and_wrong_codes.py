"""sign-ins and wrong codes"""

import sqlalchemy as sa
from alembic import op

revision = "0013"
down_revision = "0012"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "sign_in",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("token_sha256", sa.String(length=64), nullable=False),
        sa.Column("since", sa.DateTime(timezone=True), nullable=False),
        sa.Column("address", sa.String(length=45), nullable=False),
        sa.Column("device", sa.String(length=200), nullable=False),
        sa.Column("ended_at", sa.DateTime(timezone=True), nullable=True),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_sign_in_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_sign_in")),
        sa.UniqueConstraint("token_sha256", name=op.f("uq_sign_in_token_sha256")),
    )
    op.create_index(op.f("ix_sign_in_person_id"), "sign_in", ["person_id"])
    op.create_table(
        "wrong_code",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("address", sa.String(length=45), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_wrong_code")),
    )
    op.create_index(op.f("ix_wrong_code_address_wrong_code_at"), "wrong_code", ["address", "at"])
    op.create_index(op.f("ix_wrong_code_at"), "wrong_code", ["at"])
    op.add_column(
        "sign_in_attempt",
        sa.Column("address", sa.String(length=45), nullable=False, server_default=sa.text("''")),
    )
    op.create_index(
        op.f("ix_sign_in_attempt_address_sign_in_attempt_at"), "sign_in_attempt", ["address", "at"]
    )
    # Plain, not in a batch: SQLite drops a bare column itself, and nothing is rebuilt.
    op.drop_column("person", "sign_in_series")


def downgrade() -> None:
    op.add_column(
        "person",
        sa.Column("sign_in_series", sa.Integer(), nullable=False, server_default=sa.text("1")),
    )
    op.drop_index(op.f("ix_sign_in_attempt_address_sign_in_attempt_at"), "sign_in_attempt")
    op.drop_column("sign_in_attempt", "address")
    op.drop_index(op.f("ix_wrong_code_at"), "wrong_code")
    op.drop_index(op.f("ix_wrong_code_address_wrong_code_at"), "wrong_code")
    op.drop_table("wrong_code")
    op.drop_index(op.f("ix_sign_in_person_id"), "sign_in")
    op.drop_table("sign_in")
