"""Results of pressure, vacuum, leak and crack tests, and why a measurement was left out"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0020"
down_revision = "0019"
branch_labels = None
depends_on = None

KINDS = ("pressure test", "vacuum test", "leak test", "crack test")
LISTED = ", ".join(f"'{kind}'" for kind in KINDS)
BUILT_IN = {"pressure-test": "pressure test", "crack-check": "crack test"}
ON_ONE_RESULT = "(measurement_id IS NULL) <> (integrity_test_id IS NULL)"


def upgrade() -> None:
    op.create_table(
        "integrity_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("place", sa.String(200), nullable=False),
        sa.Column("medium", sa.String(200), nullable=False),
        sa.Column("pressure_typed", sa.String(60), nullable=True),
        sa.Column("pressure_si", sa.Float(), nullable=True),
        sa.Column("duration_typed", sa.String(60), nullable=True),
        sa.Column("duration_si", sa.Float(), nullable=True),
        sa.Column("pressure_drop_typed", sa.String(60), nullable=True),
        sa.Column("pressure_drop_si", sa.Float(), nullable=True),
        sa.Column("passed", sa.Boolean(), nullable=False),
        sa.Column("notes", sa.String(200), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(f"kind IN ({LISTED})", name=op.f("ck_integrity_test_integritykind")),
        sa.CheckConstraint("medium <> ''", name=op.f("ck_integrity_test_medium_given")),
        sa.CheckConstraint("pressure_si > 0", name=op.f("ck_integrity_test_pressure_positive")),
        sa.CheckConstraint("duration_si > 0", name=op.f("ck_integrity_test_duration_positive")),
        sa.CheckConstraint(
            "pressure_drop_si >= 0", name=op.f("ck_integrity_test_drop_not_negative")
        ),
        sa.ForeignKeyConstraint(
            ["operation_id"], ["operation.id"],
            name=op.f("fk_integrity_test_operation_id_operation"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_integrity_test_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_integrity_test")),
    )  # fmt: skip
    op.create_index(op.f("ix_integrity_test_operation_id"), "integrity_test", ["operation_id"])
    with op.batch_alter_table("decision") as batch:
        batch.add_column(sa.Column("integrity_test_id", sa.Integer(), nullable=True))
        batch.alter_column("measurement_id", existing_type=sa.Integer(), nullable=True)
        batch.create_foreign_key(
            op.f("fk_decision_integrity_test_id_integrity_test"),
            "integrity_test", ["integrity_test_id"], ["id"],
        )  # fmt: skip
        batch.create_check_constraint(op.f("ck_decision_on_one_result"), ON_ONE_RESULT)
    op.create_index(op.f("ix_decision_integrity_test_id"), "decision", ["integrity_test_id"])
    # Added in place: SQLite would drop the triggers of a table that is rebuilt.
    op.add_column(
        "operation",
        sa.Column("not_measured_because", sa.Text(), nullable=False, server_default=""),
    )
    check = sa.CheckConstraint(
        f"tests_by IN ({LISTED})", name=op.f("ck_operation_kind_integritykind")
    )
    op.add_column("operation_kind", sa.Column("tests_by", sa.String(30), check, nullable=True))
    for code, kind in BUILT_IN.items():
        op.execute(f"UPDATE operation_kind SET tests_by = '{kind}' WHERE code = '{code}'")


def downgrade() -> None:
    with altered("operation_kind") as batch:
        batch.drop_constraint(op.f("ck_operation_kind_integritykind"), type_="check")
        batch.drop_column("tests_by")
    op.drop_column("operation", "not_measured_because")
    # Decisions on tests go with the tests.
    op.execute("DELETE FROM decision WHERE measurement_id IS NULL")
    op.drop_index(op.f("ix_decision_integrity_test_id"), "decision")
    with op.batch_alter_table("decision") as batch:
        batch.drop_constraint(op.f("ck_decision_on_one_result"), type_="check")
        batch.drop_constraint(
            op.f("fk_decision_integrity_test_id_integrity_test"), type_="foreignkey"
        )
        batch.alter_column("measurement_id", existing_type=sa.Integer(), nullable=False)
        batch.drop_column("integrity_test_id")
    op.drop_table("integrity_test")
