"""Codes that open the page on which a shop is set up"""

import sqlalchemy as sa
from alembic import op

revision = "0027"
down_revision = "0026"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "set_up_code",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("code_sha256", sa.String(64), nullable=False),
        sa.Column("made_at", sa.DateTime(timezone=True), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_set_up_code")),
        sa.UniqueConstraint("code_sha256", name=op.f("uq_set_up_code_code_sha256")),
    )


def downgrade() -> None:
    op.drop_table("set_up_code")
