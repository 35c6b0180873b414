"""The cam a certificate shows, consent to open data, and heads of open data"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0055"
down_revision = "0054"
branch_labels = None
depends_on = None

CAM = "fk_certificate_draft_cam_id_cam"
PERSON = "fk_customer_open_data_consent_by_id_person"
KEY = "uq_head_open_data_key"
CONSENT = ("open_data_consent_at", "open_data_consent_by_id", "open_data_consent")


def upgrade() -> None:
    with altered("certificate_draft") as table:
        table.add_column(sa.Column("cam_id", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f(CAM), "cam", ["cam_id"], ["id"])
    with altered("customer") as table:
        table.add_column(
            sa.Column("open_data_consent", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        table.add_column(
            sa.Column("open_data_consent_at", sa.DateTime(timezone=True), nullable=True)
        )
        table.add_column(sa.Column("open_data_consent_by_id", sa.Integer(), nullable=True))
        table.create_foreign_key(op.f(PERSON), "person", ["open_data_consent_by_id"], ["id"])
    with altered("head") as table:
        table.add_column(sa.Column("open_data_key", sa.String(36), nullable=True))
        table.add_column(
            sa.Column("from_open_data", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        table.create_unique_constraint(op.f(KEY), ["open_data_key"])


def downgrade() -> None:
    with altered("head") as table:
        table.drop_constraint(op.f(KEY), type_="unique")
        table.drop_column("from_open_data")
        table.drop_column("open_data_key")
    with altered("customer") as table:
        table.drop_constraint(op.f(PERSON), type_="foreignkey")
        for name in CONSENT:
            table.drop_column(name)
    with altered("certificate_draft") as table:
        table.drop_constraint(op.f(CAM), type_="foreignkey")
        table.drop_column("cam_id")
