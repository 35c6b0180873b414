"""The price list, parts and a price of work plan templates, and what a package includes"""

import sqlalchemy as sa
from alembic import op
from alembic.operations import BatchOperations

from shopflow.altering import altered

revision = "0059"
down_revision = "0058"
branch_labels = None
depends_on = None

TAX_CLASSES = ("standard", "reduced", "zero", "exempt")
KINDS = ("part", "outside work", "freight", "fee", "discount", "text", "deposit")
CHECK = "ck_job_line_linekind"


def upgrade() -> None:
    _price_entry()
    op.create_table(
        "routing_part",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("routing_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.Column("description", sa.String(200), nullable=False),
        sa.Column("part_number", sa.String(200), nullable=False),
        sa.Column("quantity", sa.String(40), nullable=False),
        sa.Column("unit", sa.String(20), nullable=False),
        sa.Column("unit_price", sa.BigInteger(), nullable=True),
        sa.ForeignKeyConstraint(
            ["routing_id"], ["routing.id"], name=op.f("fk_routing_part_routing_id_routing")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_routing_part")),
        sa.UniqueConstraint(
            "routing_id", "position", name=op.f("uq_routing_part_routing_id_position")
        ),
    )
    with altered("routing") as table:
        table.add_column(sa.Column("package_price", sa.BigInteger(), nullable=True))
        table.add_column(
            sa.Column(
                "tax_class",
                _choice("taxclass", *TAX_CLASSES),
                nullable=False,
                server_default="standard",
            )
        )
    with altered("job_line") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), _kinds(*KINDS, "package"))
        _package(table, "job_line")
    with altered("operation") as table:
        _package(table, "operation")


def downgrade() -> None:
    with altered("operation") as table:
        _no_package(table, "operation")
    with altered("job_line") as table:
        # A package is charged as a fee; what it includes costs nothing as it is.
        op.execute("UPDATE job_line SET kind = 'fee' WHERE kind = 'package'")
        _no_package(table, "job_line")
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), _kinds(*KINDS))
    with altered("routing") as table:
        table.drop_constraint(op.f("ck_routing_taxclass"), type_="check")
        table.drop_column("tax_class")
        table.drop_column("package_price")
    op.drop_table("routing_part")
    op.drop_table("price_entry")


def _price_entry() -> None:
    op.create_table(
        "price_entry",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind_id", sa.Integer(), nullable=True),
        sa.Column("description", sa.String(200), nullable=False),
        sa.Column("part_number", sa.String(200), nullable=False),
        sa.Column("unit", sa.String(20), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=True),
        sa.Column("valves", sa.Integer(), nullable=True),
        sa.Column("price", sa.BigInteger(), nullable=False),
        sa.Column("per_valve", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.Column("tax_class", _choice("taxclass", *TAX_CLASSES), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("price >= 0", name=op.f("ck_price_entry_price_not_negative")),
        sa.CheckConstraint("valves > 0", name=op.f("ck_price_entry_valves_counted")),
        sa.CheckConstraint(
            "(kind_id IS NULL) <> (description = '')", name=op.f("ck_price_entry_of_one")
        ),
        sa.ForeignKeyConstraint(
            ["kind_id"], ["operation_kind.id"], name=op.f("fk_price_entry_kind_id_operation_kind")
        ),
        sa.ForeignKeyConstraint(
            ["engine_type_id"],
            ["engine_type.id"],
            name=op.f("fk_price_entry_engine_type_id_engine_type"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_price_entry")),
    )
    for column in ("kind_id", "engine_type_id"):
        op.create_index(op.f(f"ix_price_entry_{column}"), "price_entry", [column])


def _package(table: BatchOperations, name: str) -> None:
    table.add_column(sa.Column("package_id", sa.Integer(), nullable=True))
    table.create_foreign_key(
        op.f(f"fk_{name}_package_id_job_line"), "job_line", ["package_id"], ["id"]
    )
    table.create_index(op.f(f"ix_{name}_package_id"), ["package_id"])


def _no_package(table: BatchOperations, name: str) -> None:
    table.drop_index(op.f(f"ix_{name}_package_id"))
    table.drop_constraint(op.f(f"fk_{name}_package_id_job_line"), type_="foreignkey")
    table.drop_column("package_id")


def _choice(name: str, *values: str) -> sa.Enum:
    return sa.Enum(*values, name=name, native_enum=False, create_constraint=True, length=30)


def _kinds(*kinds: str) -> str:
    listed = ", ".join(f"'{kind}'" for kind in kinds)
    return f"kind IN ({listed})"
