"""Cases of gains calculated again, without a ± where the comparison of their tests states none

They are made from flow tests: once there is none, migrations/env.py fills the table.
"""

from alembic import op

revision = "0066"
down_revision = "0060"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.execute("DELETE FROM gain_case")


def downgrade() -> None:
    op.execute("DELETE FROM gain_case")
