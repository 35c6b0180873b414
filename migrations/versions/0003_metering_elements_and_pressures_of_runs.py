"""Metering elements and pressures of runs"""

from collections.abc import Iterable
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0003"
down_revision = "0002"
branch_labels = None
depends_on = None

KINDS_BEFORE = ("volume flow", "percent of range")
KINDS_AFTER = (*KINDS_BEFORE, "pressure difference")

ELEMENT = (
    ("element_kind", sa.String(200), False),
    ("element_diameter_typed", sa.String(60), True),
    ("element_diameter_si", sa.Float(), True),
    ("pipe_diameter_typed", sa.String(60), True),
    ("pipe_diameter_si", sa.Float(), True),
    ("element_coefficient", sa.String(40), True),
    ("element_area_typed", sa.String(60), True),
    ("element_area_si", sa.Float(), True),
)
SESSION = (
    ("leakage_pressure_typed", sa.String(60), True),
    ("leakage_pressure_si", sa.Float(), True),
    ("meter_kind", sa.String(200), False),
    ("meter_temperature_typed", sa.String(60), True),
    ("meter_temperature_si", sa.Float(), True),
    ("meter_pressure_typed", sa.String(60), True),
    ("meter_pressure_si", sa.Float(), True),
    *ELEMENT,
    ("pressure_unit", sa.String(10), False),
)


def upgrade() -> None:
    _add("bench_range", ELEMENT)
    _add("bench_session", SESSION)
    op.add_column("reading", sa.Column("pressure_typed", sa.String(40), nullable=True))
    op.add_column(
        "reading",
        sa.Column(
            "pressure_si",
            sa.Double(),
            sa.CheckConstraint("pressure_si > 0", name=op.f("ck_reading_pressure_positive")),
            nullable=True,
        ),
    )
    _allow(KINDS_AFTER)


def downgrade() -> None:
    _refuse_to_lose()
    _allow(KINDS_BEFORE)
    with op.batch_alter_table("reading") as batch:
        batch.drop_constraint(op.f("ck_reading_pressure_positive"), type_="check")
        batch.drop_column("pressure_si")
        batch.drop_column("pressure_typed")
    for table, columns in (("bench_session", SESSION), ("bench_range", ELEMENT)):
        with op.batch_alter_table(table) as batch:
            for name, _, _ in reversed(columns):
                batch.drop_column(name)


def _add(table: str, columns: Iterable[tuple[str, sa.types.TypeEngine[Any], bool]]) -> None:
    for name, kind, nullable in columns:
        # Rows that are there say nothing; the models give every later one a value of its own.
        default = None if nullable else ""
        op.add_column(table, sa.Column(name, kind, nullable=nullable, server_default=default))
    with op.batch_alter_table(table) as batch:
        for name, kind, nullable in columns:
            if not nullable:
                batch.alter_column(name, existing_type=kind, server_default=None)


def _allow(kinds: Iterable[str]) -> None:
    """Say which kinds of reading a bench and a session may have."""
    listed = ", ".join(f"'{kind}'" for kind in kinds)
    for table, column in (("bench", "reading"), ("bench_session", "reading_kind")):
        name = op.f(f"ck_{table}_readingkind")
        with op.batch_alter_table(table) as batch:
            batch.drop_constraint(name, type_="check")
            batch.create_check_constraint(name, f"{column} IN ({listed})")


def _refuse_to_lose() -> None:
    """Sessions that the earlier schema cannot say are not thrown away."""
    used = op.get_bind().scalar(
        sa.text(
            "SELECT count(*) FROM bench_session WHERE pressure_unit <> '' OR meter_kind <> ''"
            " OR element_kind <> '' OR leakage_pressure_typed IS NOT NULL"
        )
    )
    if used:
        raise RuntimeError(
            f"{used} bench sessions use a metering element, pressures of single runs, a leakage at "
            "its own pressure or the meter's air, which the earlier schema cannot hold: export "
            "them, and take them out first"
        )
