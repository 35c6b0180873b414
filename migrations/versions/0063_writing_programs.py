"""Scopes of tokens, the bench of one, and requests of programs that are answered alike again"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0063"
down_revision = "0061"
branch_labels = None
depends_on = None

CHECK = "ck_api_token_bench_of_scope"
BENCH = "fk_api_token_bench_id_bench"


def upgrade() -> None:
    with altered("api_token") as table:
        table.add_column(
            sa.Column("scopes", sa.String(80), nullable=False, server_default="read money")
        )
        table.add_column(sa.Column("bench_id", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f(BENCH), "bench", ["bench_id"], ["id"])
        table.create_check_constraint(
            op.f(CHECK), "(bench_id IS NULL) = (scopes NOT LIKE '%bench%')"
        )
    op.create_table(
        "api_request",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("token_id", sa.Integer(), nullable=False),
        sa.Column("key_sha256", sa.String(64), nullable=False),
        sa.Column("content_sha256", sa.String(64), nullable=False),
        sa.Column("status", sa.Integer(), nullable=False),
        sa.Column("location", sa.Text(), nullable=False),
        sa.Column("answer", sa.Text(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.ForeignKeyConstraint(
            ["token_id"], ["api_token.id"], name=op.f("fk_api_request_token_id_api_token")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_api_request")),
        sa.UniqueConstraint(
            "token_id", "key_sha256", name=op.f("uq_api_request_token_id_key_sha256")
        ),
    )
    op.create_index(op.f("ix_api_request_at"), "api_request", ["at"])


def downgrade() -> None:
    op.drop_table("api_request")
    # The version before opens all records to every token.
    op.execute(
        "UPDATE api_token SET revoked_at = made_at WHERE revoked_at IS NULL "
        "AND NOT (scopes LIKE '%read%' AND scopes LIKE '%money%')"
    )
    with altered("api_token") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.drop_constraint(op.f(BENCH), type_="foreignkey")
        table.drop_column("bench_id")
        table.drop_column("scopes")
