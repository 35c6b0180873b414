"""Lines of jobs beside their steps, tax classes, certificates of exemption, order numbers"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0058"
down_revision = "0056"
branch_labels = None
depends_on = None

TAX_CLASSES = ("standard", "reduced", "zero", "exempt")
STANDARD = "standard"
DOCUMENTS = ("approval", "invoice", "quote")
FROZEN = ("invoice_line",)
POSITION = sa.table("approval_line", *map(sa.column, ("approval_id", "operation_id", "position")))


def upgrade() -> None:
    with altered("operation_kind") as table:
        table.add_column(_tax_class(STANDARD))
    with altered("shop") as table:
        table.add_column(_text("reduced_tax_rate_percent", 40, "0"))
        table.add_column(_text("exempt_reason", 200))
    with altered("customer") as table:
        table.add_column(_text("exemption_certificate", 200))
        table.add_column(sa.Column("exemption_valid_until", sa.Date(), nullable=True))
    with altered("job") as table:
        table.add_column(_text("order_number", 200))
    _job_line()
    _number_approvals(op.get_bind())
    for document in DOCUMENTS:
        _widen(document)


def downgrade() -> None:
    for document in DOCUMENTS:
        _narrow(document)
    op.drop_table("job_line")
    with altered("job") as table:
        table.drop_column("order_number")
    with altered("customer") as table:
        table.drop_column("exemption_valid_until")
        table.drop_column("exemption_certificate")
    with altered("shop") as table:
        table.drop_column("exempt_reason")
        table.drop_column("reduced_tax_rate_percent")
    with altered("operation_kind") as table:
        table.drop_constraint(op.f("ck_operation_kind_taxclass"), type_="check")
        table.drop_column("tax_class")


def _text(name: str, length: int, default: str = "") -> sa.Column[str]:
    return sa.Column(name, sa.String(length), nullable=False, server_default=default)


def _tax_class(default: str | None = None) -> sa.Column[str]:
    kind = _choice("taxclass", *TAX_CLASSES)
    return sa.Column("tax_class", kind, nullable=False, server_default=default)


def _choice(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=30)


def _job_line() -> None:
    op.create_table(
        "job_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=True),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            _choice(
                "linekind",
                *("part", "outside work", "freight", "fee", "discount", "text", "deposit"),
            ),
            nullable=False,
        ),
        sa.Column("state", _choice("linestate", "charged", "declined", "removed"), nullable=False),
        sa.Column("description", sa.String(200), nullable=False),
        sa.Column("part_number", sa.String(200), nullable=False),
        sa.Column("quantity", sa.String(40), nullable=False),
        sa.Column("unit", sa.String(20), nullable=False),
        sa.Column("unit_price", sa.BigInteger(), nullable=True),
        sa.Column("percent", sa.String(40), nullable=True),
        sa.Column(
            "discount_of", _choice("discountof", "everything", "work", "parts"), nullable=False
        ),
        _tax_class(),
        sa.Column("added_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("unit_price >= 0", name=op.f("ck_job_line_unit_price_not_negative")),
        sa.CheckConstraint("description <> ''", name=op.f("ck_job_line_described")),
        sa.CheckConstraint(
            "percent IS NULL OR kind = 'discount'", name=op.f("ck_job_line_percent_of_discount")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_job_line_job_id_job")),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_job_line_job_head_id_job_head")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_job_line")),
    )
    op.create_index(op.f("ix_job_line_job_id"), "job_line", ["job_id"])
    op.create_index(op.f("ix_job_line_job_head_id"), "job_line", ["job_head_id"])


def _number_approvals(connection: sa.Connection) -> None:
    """Number the lines of an approval through where two have one position: revision 0022 gave
    them that of the step on its head."""
    twice = (
        sa.select(POSITION.c.approval_id)
        .group_by(POSITION.c.approval_id)
        .having(sa.func.count() > sa.func.count(POSITION.c.position.distinct()))
    )
    rows = connection.execute(
        sa.select(POSITION.c.approval_id, POSITION.c.operation_id)
        .where(POSITION.c.approval_id.in_(twice))
        .order_by(POSITION.c.approval_id, POSITION.c.position, POSITION.c.operation_id)
    ).all()
    numbers: dict[int, int] = {}
    for approval, operation in rows:
        numbers[approval] = numbers.get(approval, 0) + 1
        connection.execute(
            POSITION.update()
            .where(POSITION.c.approval_id == approval, POSITION.c.operation_id == operation)
            .values(position=numbers[approval])
        )


def _widen(document: str) -> None:
    """Let the lines of a document be for lines of a job too."""
    table, key = f"{document}_line", f"{document}_id"
    with altered(table) as batch:
        batch.drop_constraint(op.f(f"ck_{table}_price_not_negative"), type_="check")
        batch.drop_constraint(op.f(f"pk_{table}"), type_="primary")
        batch.add_column(sa.Column("job_line_id", sa.Integer(), nullable=True))
        batch.alter_column("operation_id", existing_type=sa.Integer(), nullable=True)
        batch.create_primary_key(op.f(f"pk_{table}"), [key, "position"])
        batch.create_foreign_key(
            op.f(f"fk_{table}_job_line_id_job_line"), "job_line", ["job_line_id"], ["id"]
        )
        batch.create_unique_constraint(
            op.f(f"uq_{table}_{key}_operation_id"), [key, "operation_id"]
        )
        batch.create_unique_constraint(op.f(f"uq_{table}_{key}_job_line_id"), [key, "job_line_id"])
        batch.create_check_constraint(
            op.f(f"ck_{table}_price_not_negative"), "price >= 0 OR job_line_id IS NOT NULL"
        )
        batch.create_check_constraint(
            op.f(f"ck_{table}_of_one"), "(operation_id IS NULL) <> (job_line_id IS NULL)"
        )
        batch.create_index(op.f(f"ix_{table}_job_line_id"), ["job_line_id"])


def _narrow(document: str) -> None:
    """Leave the lines of a document that are for steps."""
    table, key = f"{document}_line", f"{document}_id"
    with altered(table) as batch:
        _delete_job_lines(table)
        batch.drop_index(op.f(f"ix_{table}_job_line_id"))
        batch.drop_constraint(op.f(f"ck_{table}_of_one"), type_="check")
        batch.drop_constraint(op.f(f"ck_{table}_price_not_negative"), type_="check")
        batch.drop_constraint(op.f(f"uq_{table}_{key}_job_line_id"), type_="unique")
        batch.drop_constraint(op.f(f"uq_{table}_{key}_operation_id"), type_="unique")
        batch.drop_constraint(op.f(f"fk_{table}_job_line_id_job_line"), type_="foreignkey")
        batch.drop_constraint(op.f(f"pk_{table}"), type_="primary")
        batch.drop_column("job_line_id")
        batch.alter_column("operation_id", existing_type=sa.Integer(), nullable=False)
        batch.create_primary_key(op.f(f"pk_{table}"), [key, "operation_id"])
        batch.create_check_constraint(op.f(f"ck_{table}_price_not_negative"), "price >= 0")


def _delete_job_lines(table: str) -> None:
    """Delete what is for lines of a job; on PostgreSQL issued documents are frozen by a trigger."""
    frozen = table in FROZEN and op.get_bind().dialect.name == "postgresql"
    if frozen:
        op.execute(f"ALTER TABLE {table} DISABLE TRIGGER USER")
    op.execute(f"DELETE FROM {table} WHERE job_line_id IS NOT NULL")
    if frozen:
        op.execute(f"ALTER TABLE {table} ENABLE TRIGGER USER")
