"""counter papers: house style, quotes, invoices, payments"""

import sqlalchemy as sa
from alembic import op

revision = "0006"
down_revision = "0002"
branch_labels = None
depends_on = None

FROZEN = ("invoice", "invoice_line")
REFUSAL = "an issued invoice cannot be changed or deleted"


def upgrade() -> None:
    op.create_table(
        "house_style",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("logo", sa.LargeBinary(), nullable=False),
        sa.Column("accent", sa.String(length=7), nullable=False),
        sa.Column("second", sa.String(length=7), nullable=False),
        sa.Column("date_format", sa.String(length=10), nullable=False),
        sa.Column("label_size", sa.String(length=20), nullable=False),
        sa.Column("label_name", sa.String(length=10), nullable=False),
        sa.Column("tax_label", sa.String(length=200), nullable=False),
        sa.Column("tax_number", sa.String(length=200), nullable=False),
        sa.Column("payment_terms", sa.Text(), nullable=False),
        sa.Column("payment_days", sa.Integer(), nullable=False),
        sa.Column("payment_to", sa.Text(), nullable=False),
        sa.Column("quote_days", sa.Integer(), nullable=False),
        sa.Column("quote_conditions", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "label_name IN ('name', 'initials')", name=op.f("ck_house_style_label_name")
        ),
        sa.CheckConstraint("id = 1", name=op.f("ck_house_style_only_one")),
        sa.CheckConstraint(
            "payment_days >= 0", name=op.f("ck_house_style_payment_days_not_negative")
        ),
        sa.CheckConstraint("quote_days >= 1", name=op.f("ck_house_style_quote_days_positive")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_house_style")),
    )
    op.create_table(
        "invoice",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            sa.Enum(
                "invoice",
                "credit note",
                name="invoicekind",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("credits_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("issued_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("issued_by_id", sa.Integer(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("tax", sa.BigInteger(), nullable=False),
        sa.Column("total", sa.BigInteger(), nullable=False),
        sa.Column("snapshot", sa.JSON(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.CheckConstraint(
            "(kind = 'credit note') = (credits_id IS NOT NULL)", name=op.f("ck_invoice_credits_one")
        ),
        sa.CheckConstraint(
            "kind = 'invoice' OR reason <> ''", name=op.f("ck_invoice_credit_has_reason")
        ),
        sa.CheckConstraint(
            "tax >= 0 AND total >= tax", name=op.f("ck_invoice_amounts_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["credits_id"], ["invoice.id"], name=op.f("fk_invoice_credits_id_invoice")
        ),
        sa.ForeignKeyConstraint(
            ["issued_by_id"], ["person.id"], name=op.f("fk_invoice_issued_by_id_person")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_invoice_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_invoice")),
        sa.UniqueConstraint("credits_id", name=op.f("uq_invoice_credits_id")),
        sa.UniqueConstraint("number", name=op.f("uq_invoice_number")),
    )
    with op.batch_alter_table("invoice", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_invoice_job_id"), ["job_id"], unique=False)

    op.create_table(
        "payment",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("received_on", sa.Date(), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("method", sa.String(length=200), nullable=False),
        sa.Column("note", sa.String(length=200), nullable=False),
        sa.Column("recorded_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.CheckConstraint("amount <> 0", name=op.f("ck_payment_amount_not_zero")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_payment_job_id_job")),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_payment_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_payment")),
    )
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_payment_job_id"), ["job_id"], unique=False)

    op.create_table(
        "quote",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("revision", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("given_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("given_by_id", sa.Integer(), nullable=True),
        sa.Column("valid_until", sa.Date(), nullable=False),
        sa.Column("deposit", sa.BigInteger(), nullable=False),
        sa.Column("total", sa.BigInteger(), nullable=False),
        sa.Column("snapshot", sa.JSON(), nullable=False),
        sa.Column("pdf", sa.LargeBinary(), nullable=False),
        sa.Column("sha256", sa.String(length=64), nullable=False),
        sa.Column("approved_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("approved_by", sa.String(length=200), nullable=False),
        sa.Column("approved_how", sa.String(length=200), nullable=False),
        sa.CheckConstraint(
            "approved_at IS NULL OR approved_by <> ''", name=op.f("ck_quote_approval_by_someone")
        ),
        sa.CheckConstraint("deposit >= 0", name=op.f("ck_quote_deposit_not_negative")),
        sa.CheckConstraint("revision >= 1", name=op.f("ck_quote_revision_counted")),
        sa.ForeignKeyConstraint(
            ["given_by_id"], ["person.id"], name=op.f("fk_quote_given_by_id_person")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_quote_job_id_job")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_quote")),
        sa.UniqueConstraint("number", "revision", name=op.f("uq_quote_number_revision")),
    )
    with op.batch_alter_table("quote", schema=None) as batch_op:
        batch_op.create_index(batch_op.f("ix_quote_job_id"), ["job_id"], unique=False)

    op.create_table(
        "invoice_line",
        sa.Column("invoice_id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("price >= 0", name=op.f("ck_invoice_line_price_not_negative")),
        sa.ForeignKeyConstraint(
            ["invoice_id"], ["invoice.id"], name=op.f("fk_invoice_line_invoice_id_invoice")
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_invoice_line_operation_id_operation")
        ),
        sa.PrimaryKeyConstraint("invoice_id", "operation_id", name=op.f("pk_invoice_line")),
    )
    with op.batch_alter_table("invoice_line", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_invoice_line_operation_id"), ["operation_id"], unique=False
        )

    op.create_table(
        "quote_line",
        sa.Column("quote_id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("extra", sa.Boolean(), nullable=False),
        sa.CheckConstraint("price >= 0", name=op.f("ck_quote_line_price_not_negative")),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_quote_line_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(
            ["quote_id"], ["quote.id"], name=op.f("fk_quote_line_quote_id_quote")
        ),
        sa.PrimaryKeyConstraint("quote_id", "operation_id", name=op.f("pk_quote_line")),
    )
    with op.batch_alter_table("quote_line", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_quote_line_operation_id"), ["operation_id"], unique=False
        )
    for table in FROZEN:
        _freeze(table)


def _freeze(table: str) -> None:
    """Let the database itself refuse to change or delete a row, whoever asks."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        return
    op.execute(
        "CREATE OR REPLACE FUNCTION refuse_change_of_invoice() RETURNS trigger AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';"
        " END $$ LANGUAGE plpgsql"
    )
    op.execute(
        f"CREATE TRIGGER {table}_frozen BEFORE UPDATE OR DELETE ON {table} "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change_of_invoice()"
    )


def downgrade() -> None:
    with op.batch_alter_table("quote_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quote_line_operation_id"))

    op.drop_table("quote_line")
    with op.batch_alter_table("invoice_line", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invoice_line_operation_id"))

    op.drop_table("invoice_line")
    with op.batch_alter_table("quote", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_quote_job_id"))

    op.drop_table("quote")
    with op.batch_alter_table("payment", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_payment_job_id"))

    op.drop_table("payment")
    with op.batch_alter_table("invoice", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_invoice_job_id"))

    op.drop_table("invoice")
    op.drop_table("house_style")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change_of_invoice()")
