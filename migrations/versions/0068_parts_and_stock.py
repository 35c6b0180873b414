"""Parts, stock, purchase orders, and work sent out"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0068"
down_revision = "0064"
branch_labels = None
depends_on = None

REFUSAL = "stock movements are only appended to"


def upgrade() -> None:
    op.create_table(
        "supplier",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("contact", sa.String(length=200), nullable=False),
        sa.Column("email", sa.String(length=200), nullable=False),
        sa.Column("phone", sa.String(length=200), nullable=False),
        sa.Column("address", sa.Text(), nullable=False),
        sa.Column("account_number", sa.String(length=200), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("name <> ''", name=op.f("ck_supplier_named")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_supplier")),
        sa.UniqueConstraint("name", name=op.f("uq_supplier_name")),
    )
    op.create_table(
        "part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=60), nullable=False),
        sa.Column("name", sa.String(length=200), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=True),
        sa.Column("supplier_number", sa.String(length=200), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=True),
        sa.Column("price", sa.BigInteger(), nullable=True),
        sa.Column(
            "tax_class",
            _choice("taxclass", "standard", "reduced", "zero", "exempt"),
            nullable=False,
        ),
        sa.Column("bin", sa.String(length=200), nullable=False),
        sa.Column("reorder_point", sa.BigInteger(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("active", sa.Boolean(), server_default=sa.true(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("number <> '' AND name <> ''", name=op.f("ck_part_named")),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_part_cost_not_negative")),
        sa.CheckConstraint("price >= 0", name=op.f("ck_part_price_not_negative")),
        sa.CheckConstraint("reorder_point >= 0", name=op.f("ck_part_reorder_point_not_negative")),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_part_supplier_id_supplier")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part")),
        sa.UniqueConstraint("number", name=op.f("uq_part_number")),
    )
    _index("part", "supplier_id")
    op.create_table(
        "purchase_order",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("number", sa.String(length=20), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column(
            "state",
            _choice("orderstate", "draft", "placed", "closed", "cancelled"),
            nullable=False,
        ),
        sa.Column("drafted_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("placed_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("placed_by_id", sa.Integer(), nullable=True),
        sa.Column("expected_on", sa.Date(), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("cancel_reason", sa.String(length=200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "state = 'draft' OR state = 'cancelled' OR placed_at IS NOT NULL",
            name=op.f("ck_purchase_order_placed_at_some_time"),
        ),
        sa.ForeignKeyConstraint(
            ["placed_by_id"], ["person.id"], name=op.f("fk_purchase_order_placed_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_purchase_order_supplier_id_supplier")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_order")),
        sa.UniqueConstraint("number", name=op.f("uq_purchase_order_number")),
    )
    _index("purchase_order", "supplier_id")
    op.create_table(
        "purchase_order_line",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("order_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("description", sa.String(length=200), nullable=False),
        sa.Column("supplier_number", sa.String(length=200), nullable=False),
        sa.Column("quantity", sa.BigInteger(), nullable=False),
        sa.Column("unit", sa.String(length=20), nullable=False),
        sa.Column("cost", sa.BigInteger(), nullable=True),
        sa.Column("cancelled", sa.BigInteger(), server_default=sa.text("0"), nullable=False),
        sa.CheckConstraint(
            "cancelled >= 0 AND cancelled <= quantity",
            name=op.f("ck_purchase_order_line_cancelled_in_quantity"),
        ),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_purchase_order_line_cost_not_negative")),
        sa.CheckConstraint("quantity > 0", name=op.f("ck_purchase_order_line_quantity_above_zero")),
        sa.ForeignKeyConstraint(
            ["order_id"],
            ["purchase_order.id"],
            name=op.f("fk_purchase_order_line_order_id_purchase_order"),
        ),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_purchase_order_line_part_id_part")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_purchase_order_line")),
        sa.UniqueConstraint(
            "order_id", "part_id", name=op.f("uq_purchase_order_line_order_id_part_id")
        ),
    )
    _index("purchase_order_line", "order_id", "part_id")
    op.create_table(
        "outside_work",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_line_id", sa.Integer(), nullable=False),
        sa.Column("supplier_id", sa.Integer(), nullable=False),
        sa.Column("sent_on", sa.Date(), nullable=False),
        sa.Column("due_on", sa.Date(), nullable=True),
        sa.Column("cost", sa.BigInteger(), nullable=True),
        sa.Column("back_on", sa.Date(), nullable=True),
        sa.Column("wait_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("back_on >= sent_on", name=op.f("ck_outside_work_back_after_sent")),
        sa.CheckConstraint("cost >= 0", name=op.f("ck_outside_work_cost_not_negative")),
        sa.CheckConstraint("due_on >= sent_on", name=op.f("ck_outside_work_due_after_sent")),
        sa.ForeignKeyConstraint(
            ["job_line_id"], ["job_line.id"], name=op.f("fk_outside_work_job_line_id_job_line")
        ),
        sa.ForeignKeyConstraint(
            ["supplier_id"], ["supplier.id"], name=op.f("fk_outside_work_supplier_id_supplier")
        ),
        sa.ForeignKeyConstraint(
            ["wait_id"], ["wait.id"], name=op.f("fk_outside_work_wait_id_wait")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_outside_work")),
    )
    _index("outside_work", "job_line_id", "supplier_id", "wait_id")
    op.create_table(
        "stock_movement",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=False),
        sa.Column("sequence", sa.Integer(), nullable=False),
        sa.Column(
            "kind",
            _choice("movementkind", "received", "fitted", "returned", "counted", "corrected"),
            nullable=False,
        ),
        sa.Column("change", sa.BigInteger(), nullable=False),
        sa.Column("on_hand", sa.BigInteger(), nullable=False),
        sa.Column("why", sa.String(length=200), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("job_line_id", sa.Integer(), nullable=True),
        sa.Column("order_line_id", sa.Integer(), nullable=True),
        sa.CheckConstraint(
            "(kind IN ('fitted', 'returned')) = (job_line_id IS NOT NULL)",
            name=op.f("ck_stock_movement_of_a_line"),
        ),
        sa.CheckConstraint(
            "(kind IN ('received', 'returned') AND change > 0) OR (kind = 'fitted' AND change < 0)"
            " OR kind = 'counted' OR (kind = 'corrected' AND change <> 0)",
            name=op.f("ck_stock_movement_change_of_kind"),
        ),
        sa.CheckConstraint(
            "kind <> 'corrected' OR why <> ''", name=op.f("ck_stock_movement_correction_has_reason")
        ),
        sa.CheckConstraint(
            "order_line_id IS NULL OR kind = 'received'",
            name=op.f("ck_stock_movement_received_on_order"),
        ),
        sa.CheckConstraint("on_hand >= 0", name=op.f("ck_stock_movement_on_hand_not_negative")),
        sa.CheckConstraint("sequence > 0", name=op.f("ck_stock_movement_numbered")),
        sa.ForeignKeyConstraint(
            ["job_line_id"], ["job_line.id"], name=op.f("fk_stock_movement_job_line_id_job_line")
        ),
        sa.ForeignKeyConstraint(
            ["order_line_id"],
            ["purchase_order_line.id"],
            name=op.f("fk_stock_movement_order_line_id_purchase_order_line"),
        ),
        sa.ForeignKeyConstraint(
            ["part_id"], ["part.id"], name=op.f("fk_stock_movement_part_id_part")
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_stock_movement_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_stock_movement")),
        sa.UniqueConstraint("part_id", "sequence", name=op.f("uq_stock_movement_part_id_sequence")),
    )
    _index("stock_movement", "job_line_id", "order_line_id", "part_id")
    op.create_table(
        "part_need",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_line_id", sa.Integer(), nullable=False),
        sa.Column("part_id", sa.Integer(), nullable=True),
        sa.Column("operation_id", sa.Integer(), nullable=True),
        sa.Column("is_customers_own", sa.Boolean(), server_default=sa.false(), nullable=False),
        sa.Column("own_here_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("own_fitted_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "(part_id IS NULL) = is_customers_own", name=op.f("ck_part_need_of_stock_or_customer")
        ),
        sa.CheckConstraint(
            "own_fitted_at IS NULL OR own_here_at IS NOT NULL", name=op.f("ck_part_need_own_fitted")
        ),
        sa.CheckConstraint(
            "own_here_at IS NULL OR is_customers_own", name=op.f("ck_part_need_own_here")
        ),
        sa.ForeignKeyConstraint(
            ["job_line_id"], ["job_line.id"], name=op.f("fk_part_need_job_line_id_job_line")
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"], name=op.f("fk_part_need_operation_id_operation")
        ),
        sa.ForeignKeyConstraint(["part_id"], ["part.id"], name=op.f("fk_part_need_part_id_part")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_part_need")),
        sa.UniqueConstraint("job_line_id", name=op.f("uq_part_need_job_line_id")),
    )
    _index("part_need", "operation_id", "part_id")
    with altered("shop") as batch:
        batch.add_column(
            sa.Column("uses_parts", sa.Boolean(), server_default=sa.false(), nullable=False)
        )

    with altered("wait") as batch:
        batch.add_column(
            sa.Column("ends_with_parts", sa.Boolean(), server_default=sa.false(), nullable=False)
        )
    _freeze()


def downgrade() -> None:
    with altered("wait") as batch:
        batch.drop_column("ends_with_parts")
    with altered("shop") as batch:
        batch.drop_column("uses_parts")
    for table in (
        *("part_need", "stock_movement", "outside_work", "purchase_order_line"),
        *("purchase_order", "part", "supplier"),
    ):
        op.drop_table(table)
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change_of_stock_movement")


def _choice(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=30)


def _index(table: str, *columns: str) -> None:
    for column in columns:
        op.create_index(op.f(f"ix_{table}_{column}"), table, [column])


def _freeze() -> None:
    """Let the database itself refuse to change or delete a movement, whoever asks."""
    if op.get_bind().dialect.name == "sqlite":
        for verb in ("UPDATE", "DELETE"):
            op.execute(
                f"CREATE TRIGGER stock_movement_no_{verb.lower()} BEFORE {verb} ON stock_movement "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        return
    op.execute(
        "CREATE FUNCTION refuse_change_of_stock_movement() RETURNS trigger AS "
        f"$$ BEGIN RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';"
        " END $$ LANGUAGE plpgsql"
    )
    op.execute(
        "CREATE TRIGGER stock_movement_frozen BEFORE UPDATE OR DELETE ON stock_movement "
        "FOR EACH ROW EXECUTE FUNCTION refuse_change_of_stock_movement()"
    )
