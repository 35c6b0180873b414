"""A customer's language for documents; customers on record read the shop's"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0038"
down_revision = "0041"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with altered("customer") as batch:
        batch.add_column(sa.Column("language", sa.String(10), nullable=False, server_default=""))
        batch.create_check_constraint(
            op.f("ck_customer_language"), "language IN ('', 'en_US', 'en_GB')"
        )


def downgrade() -> None:
    with altered("customer") as batch:
        batch.drop_constraint(op.f("ck_customer_language"), type_="check")
        batch.drop_column("language")
