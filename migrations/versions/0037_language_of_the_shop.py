"""The shop's language: spelling and order of dates; shops on record have read American until now"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0037"
down_revision = "0036"
branch_labels = None
depends_on = None


def upgrade() -> None:
    with altered("shop") as batch:
        batch.add_column(
            sa.Column("language", sa.String(10), nullable=False, server_default="en_US")
        )
        batch.create_check_constraint(op.f("ck_shop_language"), "language IN ('en_US', 'en_GB')")


def downgrade() -> None:
    with altered("shop") as batch:
        batch.drop_constraint(op.f("ck_shop_language"), type_="check")
        batch.drop_column("language")
