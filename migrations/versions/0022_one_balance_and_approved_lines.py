"""Deposits as payments, approved and declined lines, blank prices, text for the customer"""

from decimal import ROUND_HALF_UP, Decimal
from zoneinfo import ZoneInfo

import sqlalchemy as sa
from alembic import op
from alembic.operations import BatchOperations

from shopflow.altering import altered

revision = "0022"
down_revision = "0021"
branch_labels = None
depends_on = None

MOMENT = sa.DateTime(timezone=True)
STATES = ("planned", "started", "done", "skipped")
NOT_RECORDED = "not recorded"
AT_THE_COUNTER = "Deposit taken at booking in"
DECLINED = "Declined by the customer"
JOB = sa.table(
    "job",
    *map(sa.column, ("id", "number", "deposit", "approved_by", "approved_how")),
    sa.column("booked_in_at", MOMENT),
    sa.column("approved_at", MOMENT),
)
PAYMENT = sa.table(
    "payment",
    *map(sa.column, ("id", "job_id", "amount", "method", "note", "recorded_by_id")),
    sa.column("received_on", sa.Date()),
    sa.column("recorded_at", MOMENT),
    sa.column("is_deposit", sa.Boolean()),
)
OPERATION = sa.table(
    "operation",
    *map(sa.column, ("id", "job_head_id", "position", "state", "skip_reason", "price")),
    *map(sa.column, ("again_because",)),
    sa.column("found", sa.Boolean()),
)
KIND = sa.table("operation_kind", sa.column("usual_price"))
ROUTING_STEP = sa.table("routing_step", sa.column("price"))
# Approvals that were written on quotes, and those of jobs agreed to without one.
OF_QUOTES = """
INSERT INTO approval (job_id, quote_id, at, approved_by, approved_how, total)
SELECT job_id, id, approved_at, approved_by, approved_how, total FROM quote
WHERE approved_at IS NOT NULL ORDER BY approved_at, id
"""
LINES_OF_QUOTES = """
INSERT INTO approval_line (approval_id, operation_id, position, price, declined)
SELECT approval.id, quote_line.operation_id, quote_line.position, quote_line.price,
  operation.state = 'declined'
FROM approval JOIN quote_line ON quote_line.quote_id = approval.quote_id
JOIN operation ON operation.id = quote_line.operation_id
"""
OF_JOBS = """
INSERT INTO approval (job_id, quote_id, at, approved_by, approved_how, total)
SELECT id, NULL, approved_at, approved_by, approved_how, 0
FROM job WHERE approved_at IS NOT NULL AND id NOT IN (SELECT job_id FROM approval)
ORDER BY approved_at, id
"""
LINES_OF_JOBS = """
INSERT INTO approval_line (approval_id, operation_id, position, price, declined)
SELECT approval.id, operation.id, operation.position, operation.price, {false}
FROM approval JOIN job_head ON job_head.job_id = approval.job_id
JOIN operation ON operation.job_head_id = job_head.id
WHERE approval.quote_id IS NULL AND operation.state <> 'skipped' AND NOT operation.found
"""
# The sums of those agreed to without a quote, or of less than the whole quote.
SUMS = """
SELECT approval.id, sum(approval_line.price) AS net, customer.tax_rate_percent AS own_rate,
  customer.tax_exemption, (SELECT tax_rate_percent FROM shop) AS shop_rate
FROM approval JOIN approval_line ON approval_line.approval_id = approval.id
JOIN job ON job.id = approval.job_id JOIN customer ON customer.id = job.customer_id
WHERE NOT approval_line.declined AND (approval.quote_id IS NULL OR EXISTS (
  SELECT 1 FROM approval_line AS other WHERE other.approval_id = approval.id AND other.declined))
GROUP BY approval.id, customer.tax_rate_percent, customer.tax_exemption
"""


def upgrade() -> None:
    op.add_column(
        "payment", sa.Column("is_deposit", sa.Boolean(), nullable=False, server_default=sa.false())
    )
    _deposits_to_payments(op.get_bind())
    with altered("job") as batch:
        batch.drop_constraint(op.f("ck_job_deposit_not_negative"), type_="check")
        batch.drop_column("deposit")
    with altered("operation") as batch:
        batch.add_column(_customer_text())
        batch.alter_column("price", existing_type=sa.BigInteger(), nullable=True)
        _allow(batch, *STATES, "declined")
    # What a downgrade made of declined steps.
    skipped = sa.and_(OPERATION.c.state == "skipped", OPERATION.c.skip_reason == DECLINED)
    op.execute(OPERATION.update().where(skipped).values(state="declined", skip_reason=""))
    with altered("operation_kind") as batch:
        batch.alter_column("usual_price", existing_type=sa.BigInteger(), nullable=True)
    with altered("routing_step") as batch:
        batch.add_column(_customer_text())
        batch.alter_column("price", existing_type=sa.BigInteger(), nullable=True)
    _approvals()
    for statement in (OF_QUOTES, LINES_OF_QUOTES, OF_JOBS, LINES_OF_JOBS):
        op.execute(statement.format(false=_false()))
    _sums(op.get_bind())


def downgrade() -> None:
    op.drop_table("approval_line")
    op.drop_table("approval")
    for table, column in ((OPERATION, "price"), (KIND, "usual_price"), (ROUTING_STEP, "price")):
        op.execute(table.update().where(table.c[column].is_(None)).values({column: 0}))
    declined = OPERATION.update().where(OPERATION.c.state == "declined")
    op.execute(declined.values(state="skipped", skip_reason=DECLINED))
    with altered("routing_step") as batch:
        batch.alter_column("price", existing_type=sa.BigInteger(), nullable=False)
        batch.drop_column("customer_text")
    with altered("operation_kind") as batch:
        batch.alter_column("usual_price", existing_type=sa.BigInteger(), nullable=False)
    with altered("operation") as batch:
        batch.alter_column("price", existing_type=sa.BigInteger(), nullable=False)
        batch.drop_column("customer_text")
        _allow(batch, *STATES)
    with altered("job") as batch:
        batch.add_column(
            sa.Column("deposit", sa.BigInteger(), nullable=False, server_default=sa.text("0"))
        )
        batch.create_check_constraint(op.f("ck_job_deposit_not_negative"), "deposit >= 0")
    with altered("job") as batch:
        batch.alter_column("deposit", existing_type=sa.BigInteger(), server_default=None)
    _payments_to_deposits(op.get_bind())
    with op.batch_alter_table("payment") as batch:
        batch.drop_column("is_deposit")


def _customer_text() -> sa.Column[str]:
    return sa.Column("customer_text", sa.Text(), nullable=False, server_default="")


def _false() -> str:
    return "0" if op.get_bind().dialect.name == "sqlite" else "false"


def _allow(batch: BatchOperations, *states: str) -> None:
    """Let an operation have these states, and no other."""
    batch.drop_constraint(op.f("ck_operation_operationstate"), type_="check")
    listed = ", ".join(f"'{state}'" for state in states)
    batch.create_check_constraint(op.f("ck_operation_operationstate"), f"state IN ({listed})")


def _deposits_to_payments(connection: sa.Connection) -> None:
    """Make a payment of each deposit; its day is the one it was booked in on, in the shop."""
    zone = ZoneInfo(connection.scalar(sa.text("SELECT time_zone FROM shop")) or "UTC")
    for row in connection.execute(sa.select(JOB).where(JOB.c.deposit > 0)).mappings().all():
        at = row["booked_in_at"]
        at = at.replace(tzinfo=ZoneInfo("UTC")) if at.tzinfo is None else at
        connection.execute(
            PAYMENT.insert().values(
                job_id=row["id"],
                amount=row["deposit"],
                method=NOT_RECORDED,
                note=AT_THE_COUNTER,
                received_on=at.astimezone(zone).date(),
                recorded_at=at,
                is_deposit=True,
            )
        )


def _payments_to_deposits(connection: sa.Connection) -> None:
    """Put back what an upgrade made of deposits; one recorded since stays a payment."""
    made = (PAYMENT.c.method == NOT_RECORDED, PAYMENT.c.note == AT_THE_COUNTER)
    of_deposits = sa.and_(*made, PAYMENT.c.is_deposit)
    rows = connection.execute(
        sa.select(PAYMENT.c.job_id, sa.func.sum(PAYMENT.c.amount))
        .where(of_deposits)
        .group_by(PAYMENT.c.job_id)
    )
    for job_id, amount in rows.all():
        connection.execute(JOB.update().where(JOB.c.id == job_id).values(deposit=amount))
    connection.execute(PAYMENT.delete().where(of_deposits))


def _sums(connection: sa.Connection) -> None:
    """Work out the sums with tax that no quote says."""
    approval = sa.table("approval", sa.column("id"), sa.column("total"))
    for row in connection.execute(sa.text(SUMS)).mappings().all():
        rate = Decimal(0) if row["tax_exemption"] else Decimal(row["shop_rate"] or 0)
        rate = rate if row["own_rate"] is None else Decimal(row["own_rate"])
        net = int(row["net"])
        tax = int((net * rate / 100).quantize(Decimal(1), ROUND_HALF_UP))
        statement = approval.update().where(approval.c.id == row["id"])
        connection.execute(statement.values(total=net + tax))


def _approvals() -> None:
    op.create_table(
        "approval",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_id", sa.Integer(), nullable=False),
        sa.Column("quote_id", sa.Integer(), nullable=True),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("approved_by", sa.String(length=200), nullable=False),
        sa.Column("approved_how", sa.String(length=200), nullable=False),
        sa.Column("recorded_by_id", sa.Integer(), nullable=True),
        sa.Column("total", sa.BigInteger(), nullable=False),
        sa.CheckConstraint("approved_by <> ''", name=op.f("ck_approval_by_someone")),
        sa.ForeignKeyConstraint(["job_id"], ["job.id"], name=op.f("fk_approval_job_id_job")),
        sa.ForeignKeyConstraint(
            ["quote_id"], ["quote.id"], name=op.f("fk_approval_quote_id_quote")
        ),
        sa.ForeignKeyConstraint(
            ["recorded_by_id"], ["person.id"], name=op.f("fk_approval_recorded_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_approval")),
        sa.UniqueConstraint("quote_id", name=op.f("uq_approval_quote_id")),
    )
    op.create_index(op.f("ix_approval_job_id"), "approval", ["job_id"])
    op.create_table(
        "approval_line",
        sa.Column("approval_id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("declined", sa.Boolean(), nullable=False),
        sa.CheckConstraint("price >= 0", name=op.f("ck_approval_line_price_not_negative")),
        sa.ForeignKeyConstraint(
            ["approval_id"], ["approval.id"], name=op.f("fk_approval_line_approval_id_approval")
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"],
            ["operation.id"],
            name=op.f("fk_approval_line_operation_id_operation"),
        ),
        sa.PrimaryKeyConstraint("approval_id", "operation_id", name=op.f("pk_approval_line")),
    )
    op.create_index(op.f("ix_approval_line_operation_id"), "approval_line", ["operation_id"])
