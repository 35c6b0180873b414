"""The ledger of invoices, credit notes and payments, with those on record"""

from __future__ import annotations

import json
from datetime import UTC, datetime
from decimal import Decimal
from typing import Any
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from alembic import op

revision = "0069"
down_revision = "0068"
branch_labels = None
depends_on = None

REFUSAL = "the ledger is only appended to"
FROZEN = ("ledger_entry", "ledger_posting")
SERIES = "ledger"


def upgrade() -> None:
    op.create_table(
        "ledger_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.BigInteger(), nullable=False),
        sa.Column(
            "kind",
            _choice("entrykind", "invoice", "credit note", "deposit", "payment", "refund"),
            nullable=False,
        ),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("invoice_id", sa.Integer(), nullable=True),
        sa.Column("payment_id", sa.Integer(), nullable=True),
        sa.Column("booked_on", sa.Date(), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.CheckConstraint(
            "(kind IN ('invoice', 'credit note')) = (invoice_id IS NOT NULL)",
            name=op.f("ck_ledger_entry_of_kind"),
        ),
        sa.CheckConstraint(
            "(kind IN ('invoice', 'refund') AND amount >= 0)"
            " OR (kind NOT IN ('invoice', 'refund') AND amount <= 0)",
            name=op.f("ck_ledger_entry_sign_of_kind"),
        ),
        sa.CheckConstraint(
            "(invoice_id IS NULL) <> (payment_id IS NULL)", name=op.f("ck_ledger_entry_of_one")
        ),
        sa.CheckConstraint("number > 0", name=op.f("ck_ledger_entry_numbered")),
        sa.ForeignKeyConstraint(
            ["invoice_id"], ["invoice.id"], name=op.f("fk_ledger_entry_invoice_id_invoice")
        ),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_ledger_entry_job_id_job")),
        sa.ForeignKeyConstraint(
            ["payment_id"], ["payment.id"], name=op.f("fk_ledger_entry_payment_id_payment")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_ledger_entry")),
        sa.UniqueConstraint("invoice_id", name=op.f("uq_ledger_entry_invoice_id")),
        sa.UniqueConstraint("number", name=op.f("uq_ledger_entry_number")),
        sa.UniqueConstraint("payment_id", name=op.f("uq_ledger_entry_payment_id")),
    )
    for column in ("booked_on", "job_id"):
        op.create_index(op.f(f"ix_ledger_entry_{column}"), "ledger_entry", [column])

    op.create_table(
        "ledger_posting",
        sa.Column("entry_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), autoincrement=False, nullable=False),
        sa.Column(
            "role",
            _choice(
                "accountrole", "receivables", "sales", "deposits invoiced", "tax", "money received"
            ),
            nullable=False,
        ),
        sa.Column("detail", sa.String(length=200), nullable=False),
        sa.Column("amount", sa.BigInteger(), nullable=False),
        sa.Column("tax_code", sa.String(length=3), nullable=True),
        sa.Column("tax_rate", sa.String(40), nullable=True),
        sa.Column("tax_base", sa.BigInteger(), nullable=True),
        sa.CheckConstraint(
            "(role = 'tax') = (tax_code IS NOT NULL)", name=op.f("ck_ledger_posting_tax_has_code")
        ),
        sa.CheckConstraint(
            "(tax_code IS NULL) = (tax_base IS NULL)", name=op.f("ck_ledger_posting_tax_has_base")
        ),
        sa.CheckConstraint(
            "(tax_code IS NULL) = (tax_rate IS NULL)", name=op.f("ck_ledger_posting_tax_has_rate")
        ),
        sa.ForeignKeyConstraint(
            ["entry_id"], ["ledger_entry.id"], name=op.f("fk_ledger_posting_entry_id_ledger_entry")
        ),
        sa.PrimaryKeyConstraint("entry_id", "position", name=op.f("pk_ledger_posting")),
    )
    _post_all(op.get_bind())
    _freeze()


def downgrade() -> None:
    for table in reversed(FROZEN):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change_of_ledger")
    op.execute(f"DELETE FROM counter WHERE series = '{SERIES}'")


def _choice(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=30)


def _freeze() -> None:
    """Let the database itself refuse to change or delete an entry, whoever asks."""
    is_sqlite = op.get_bind().dialect.name == "sqlite"
    if not is_sqlite:
        op.execute(
            "CREATE FUNCTION refuse_change_of_ledger() RETURNS trigger AS $$ BEGIN RAISE EXCEPTION "
            f"'{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation'; END $$ LANGUAGE plpgsql"
        )
    for table in FROZEN:
        for verb in ("UPDATE", "DELETE"):
            name = f"CREATE TRIGGER {table}_no_{verb.lower()} BEFORE {verb} ON {table} "
            op.execute(
                f"{name} BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
                if is_sqlite
                else f"{name} FOR EACH ROW EXECUTE FUNCTION refuse_change_of_ledger()"
            )


Row = dict[str, Any]


def _post_all(connection: sa.Connection) -> None:
    """Post every invoice, credit note and payment on record, in the order they were recorded."""
    name = connection.scalar(sa.text("SELECT time_zone FROM shop"))
    zone = ZoneInfo(name or "UTC")
    entries = [*_invoices(connection, zone), *_payments(connection)]
    entries.sort(key=lambda entry: (entry[0]["at"], entry[0]["payment_id"] is not None))
    table, postings = _table("ledger_entry"), _table("ledger_posting")
    for number, (entry, rows) in enumerate(entries, start=1):
        connection.execute(table.insert().values(id=number, number=number, **entry))
        connection.execute(
            postings.insert(),
            [{"tax_code": None, "tax_rate": None, "tax_base": None, **row,
              "entry_id": number, "position": position}
             for position, row in enumerate(rows, start=1)],
        )  # fmt: skip
    if entries:
        counter = sa.table("counter", *map(sa.column, ("series", "year", "last")))
        connection.execute(counter.insert().values(series=SERIES, year=0, last=len(entries)))
        if connection.dialect.name == "postgresql":
            connection.execute(
                sa.text("SELECT setval(pg_get_serial_sequence('ledger_entry', 'id'), :last)"),
                {"last": len(entries)},
            )


def _table(name: str) -> sa.Table:
    return sa.Table(name, sa.MetaData(), autoload_with=op.get_bind(), resolve_fks=False)


def _invoices(connection: sa.Connection, zone: ZoneInfo) -> list[tuple[Row, list[Row]]]:
    lines = connection.execute(
        sa.text(
            "SELECT invoice_id, invoice_line.operation_id, job_line.kind, price FROM invoice_line "
            "LEFT JOIN job_line ON job_line.id = invoice_line.job_line_id "
            "ORDER BY invoice_id, invoice_line.position"
        )
    ).all()
    of_invoice: dict[int, list[Any]] = {}
    for line in lines:
        of_invoice.setdefault(line.invoice_id, []).append(line)
    rows = connection.execute(
        sa.text("SELECT id, kind, job_id, issued_at, tax, total, snapshot FROM invoice ORDER BY id")
    ).all()
    return [_invoice(row, of_invoice.get(row.id, []), zone) for row in rows]


def _invoice(row: Any, lines: list[Any], zone: ZoneInfo) -> tuple[Row, list[Row]]:
    """An entry with its postings: the whole, what was sold, and the tax by rate."""
    sign = -1 if row.kind == "credit note" else 1
    at = _moment(row.issued_at)
    entry = {
        "kind": row.kind, "job_id": row.job_id, "invoice_id": row.id, "payment_id": None,
        "booked_on": at.astimezone(zone).date(), "at": at, "amount": sign * row.total,
    }  # fmt: skip
    sales: dict[tuple[str, str], int] = {}
    for line in lines:
        is_deposit = line.kind == "deposit"
        key = (
            "deposits invoiced" if is_deposit else "sales",
            "" if is_deposit else line.kind or "work",
        )
        sales[key] = sales.get(key, 0) + line.price
    rest = row.total - row.tax - sum(sales.values())
    if rest:
        sales["sales", "work"] = sales.get(("sales", "work"), 0) + rest
    postings = [
        {"role": "receivables", "detail": "", "amount": sign * row.total},
        *(
            {"role": role, "detail": detail, "amount": -sign * amount}
            for (role, detail), amount in sales.items()
            if amount
        ),
        *(_tax(part, sign) for part in _parts(row)),
    ]
    return entry, postings


def _parts(row: Any) -> list[Row]:
    """The tax by rate, as the document has it."""
    snapshot = row.snapshot if isinstance(row.snapshot, dict) else json.loads(row.snapshot)
    tax = snapshot["tax"]
    if tax.get("parts"):
        return list(tax["parts"])
    rate = Decimal(str(tax["rate_percent"]))
    code = "E" if tax.get("exemption") else "S" if rate else "Z"
    return [{"code": code, "rate_percent": rate, "net": tax["net"], "tax": tax["tax"]}]


def _tax(part: Row, sign: int) -> Row:
    rate = Decimal(str(part["rate_percent"]))
    return {
        "role": "tax", "detail": f"{part['code']} {rate:f}",
        "amount": -sign * _hundredths(part["tax"]), "tax_code": part["code"],
        "tax_rate": str(rate), "tax_base": -sign * _hundredths(part["net"]),
    }  # fmt: skip


def _payments(connection: sa.Connection) -> list[tuple[Row, list[Row]]]:
    rows = connection.execute(
        sa.text(
            "SELECT id, job_id, received_on, amount, method, is_deposit, recorded_at FROM payment"
        ).columns(received_on=sa.Date(), is_deposit=sa.Boolean())
    ).all()
    return [_payment(row) for row in rows]


def _payment(row: Any) -> tuple[Row, list[Row]]:
    kind = "refund" if row.amount < 0 else "deposit" if row.is_deposit else "payment"
    entry = {
        "kind": kind, "job_id": row.job_id, "invoice_id": None, "payment_id": row.id,
        "booked_on": row.received_on, "at": _moment(row.recorded_at), "amount": -row.amount,
    }  # fmt: skip
    method = row.method.strip().lower()
    return entry, [
        {"role": "money received", "detail": method, "amount": row.amount},
        {"role": "receivables", "detail": "", "amount": -row.amount},
    ]


def _hundredths(amount: Any) -> int:
    return int(Decimal(str(amount)) * 100)


def _moment(value: Any) -> datetime:
    moment = value if isinstance(value, datetime) else datetime.fromisoformat(str(value))
    return moment.replace(tzinfo=UTC) if moment.tzinfo is None else moment.astimezone(UTC)
