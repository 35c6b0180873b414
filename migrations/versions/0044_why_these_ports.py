"""Certificate drafts: why these ports were tested, where not all were; drafts on record say none"""

import sqlalchemy as sa
from alembic import op

revision = "0044"
down_revision = "0040"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.add_column(
        "certificate_draft",
        sa.Column("sampling_reason", sa.Text(), nullable=False, server_default=""),
    )


def downgrade() -> None:
    op.drop_column("certificate_draft", "sampling_reason")
