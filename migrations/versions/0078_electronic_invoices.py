"""Countries, VAT numbers, accounts and kinds of exemption, for invoices as EN 16931"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0078"
down_revision = "0077"
branch_labels = None
depends_on = None

KINDS = (
    "exempt",
    "reverse charge",
    "supply to another EU country",
    "export outside the EU",
    "not subject to tax",
)


def upgrade() -> None:
    with altered("shop") as table:
        table.add_column(_text("country", 2))
    with altered("house_style") as table:
        table.add_column(
            sa.Column("e_invoices", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        for name in ("vat_id", "iban", "bic"):
            table.add_column(_text(name, 200))
    with altered("customer") as table:
        kind = sa.Enum(
            *KINDS, name="exemptionkind", native_enum=False, create_constraint=True, length=30
        )
        table.add_column(sa.Column("exemption_kind", kind, nullable=False, server_default=KINDS[0]))
        table.add_column(_text("country", 2))
        table.add_column(_text("vat_id", 200))
        table.add_column(_text("buyer_reference", 200))


def downgrade() -> None:
    with altered("customer") as table:
        table.drop_constraint(op.f("ck_customer_exemptionkind"), type_="check")
        for name in ("buyer_reference", "vat_id", "country", "exemption_kind"):
            table.drop_column(name)
    with altered("house_style") as table:
        for name in ("bic", "iban", "vat_id", "e_invoices"):
            table.drop_column(name)
    with altered("shop") as table:
        table.drop_column("country")


def _text(name: str, length: int) -> sa.Column[str]:
    return sa.Column(name, sa.String(length), nullable=False, server_default="")
