"""Accounts and columns of the shop's bookkeeping, and reminders of overdue invoices"""

import sqlalchemy as sa
from alembic import op

revision = "0070"
down_revision = "0069"
branch_labels = None
depends_on = None


def upgrade() -> None:
    op.create_table(
        "bookkeeping",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("columns", sa.JSON(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_bookkeeping_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_bookkeeping")),
    )
    op.create_table(
        "ledger_account",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("key", sa.String(length=250), nullable=False),
        sa.Column("code", sa.String(length=200), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger_account")),
        sa.UniqueConstraint("key", name=op.f("uq_ledger_account_key")),
    )
    op.create_table(
        "reminder_stage",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("days_overdue", sa.Integer(), nullable=False),
        sa.Column("subject", sa.String(length=200), nullable=False),
        sa.Column("body", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("subject <> ''", name=op.f("ck_reminder_stage_has_subject")),
        sa.CheckConstraint("days_overdue > 0", name=op.f("ck_reminder_stage_overdue")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reminder_stage")),
        sa.UniqueConstraint("days_overdue", name=op.f("uq_reminder_stage_days_overdue")),
    )
    op.create_table(
        "reminder",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("invoice_id", sa.Integer(), nullable=False),
        sa.Column("days_overdue", sa.Integer(), nullable=False),
        sa.Column("mail_id", sa.Integer(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.ForeignKeyConstraint(
            ["invoice_id"], ["invoice.id"], name=op.f("fk_reminder_invoice_id_invoice")
        ),
        sa.ForeignKeyConstraint(
            ["mail_id"], ["outgoing_mail.id"], name=op.f("fk_reminder_mail_id_outgoing_mail")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_reminder_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_reminder")),
    )
    for column in ("invoice_id", "mail_id"):
        op.create_index(op.f(f"ix_reminder_{column}"), "reminder", [column])


def downgrade() -> None:
    for table in ("reminder", "reminder_stage", "ledger_account", "bookkeeping"):
        op.drop_table(table)
