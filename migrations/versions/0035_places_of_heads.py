"""Places of heads: cylinders, valves and ports of engine types, valves of measurements

A measurement of a valve, its seat, guide or spring finds its valve where the engine type has one on
each side; all others stay as they were typed. On the way down the number of any other valve goes
into the place as words, and comes back from there.
"""

import re
from typing import Any

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0035"
down_revision = "0033"
branch_labels = None
depends_on = None

OF_A_VALVE = (
    "guide clearance", "installed height", "seat angle", "seat interference", "seat load",
    "seat run-out", "seat width", "stem diameter", "throat diameter", "valve head diameter",
    "valve margin",
)  # fmt: skip
"""Codes of the built-in kinds that a valve has one of, as they were before this revision."""

MARKED = re.compile(r"valve no\. ([0-9]{1,2})(?:, (.*))?")
LONGEST_PLACE = 200
COUNTED = "cylinders_per_head >= 1 AND cylinders_per_head <= cylinders"
CHECKS = {
    "valve_counted": "valve >= 1",
    "valve_placed": "valve IS NULL OR (cylinder IS NOT NULL AND side <> '')",
}

measurement = sa.table(
    "measurement",
    *map(sa.column, ("id", "job_head_id", "kind_id", "cylinder", "side", "valve", "place")),
)
kind = sa.table("measurement_kind", sa.column("id"), sa.column("code"))
visit = sa.table("job_head", sa.column("id"), sa.column("head_id"))
head = sa.table("head", sa.column("id"), sa.column("engine_type_id"))
engine = sa.table("engine_type", sa.column("id"), sa.column("valves_per_cylinder"))


def upgrade() -> None:
    with altered("engine_type") as batch:
        batch.add_column(sa.Column("cylinders_per_head", sa.Integer(), nullable=True))
        for side in ("intake", "exhaust"):
            batch.add_column(
                sa.Column(f"{side}_valves", sa.JSON(), nullable=False, server_default="[]")
            )
            batch.add_column(
                sa.Column(f"{side}_ports", sa.String(200), nullable=False, server_default="")
            )
        batch.create_check_constraint(op.f("ck_engine_type_head_cylinders_counted"), COUNTED)
    op.add_column("head", sa.Column("cylinders", sa.String(200), nullable=False, server_default=""))
    with altered("measurement") as batch:
        batch.add_column(sa.Column("valve", sa.Integer(), nullable=True))
        batch.add_column(
            sa.Column("calculated", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        for name, text in CHECKS.items():
            batch.create_check_constraint(op.f(f"ck_measurement_{name}"), text)
    op.create_table(
        "usual_value",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("kind_id", sa.Integer(), nullable=False),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("valve", sa.Integer(), nullable=False),
        sa.Column("value_typed", sa.String(60), nullable=False),
        sa.Column("value_si", sa.Float(), nullable=False),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "side IN ('', 'intake', 'exhaust')", name=op.f("ck_usual_value_side")
        ),
        sa.CheckConstraint(
            "valve >= 0 AND (valve = 0 OR side <> '')",
            name=op.f("ck_usual_value_valve_of_a_side"),
        ),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"],
            name=op.f("fk_usual_value_engine_type_id_engine_type"),
        ),
        sa.ForeignKeyConstraint(
            ["kind_id"], ["measurement_kind.id"],
            name=op.f("fk_usual_value_kind_id_measurement_kind"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_usual_value")),
        sa.UniqueConstraint(
            "engine_type_id", "kind_id", "side", "valve",
            name=op.f("uq_usual_value_engine_type_id_kind_id_side_valve"),
        ),
    )  # fmt: skip
    op.create_index(op.f("ix_usual_value_kind_id"), "usual_value", ["kind_id"])
    _set_certain_layouts()
    _find_valves(op.get_bind())


def downgrade() -> None:
    _valves_into_words(op.get_bind())
    op.drop_table("usual_value")
    with altered("measurement") as batch:
        for name in CHECKS:
            batch.drop_constraint(op.f(f"ck_measurement_{name}"), type_="check")
        batch.drop_column("calculated")
        batch.drop_column("valve")
    op.drop_column("head", "cylinders")
    with altered("engine_type") as batch:
        batch.drop_constraint(op.f("ck_engine_type_head_cylinders_counted"), type_="check")
        for side in ("intake", "exhaust"):
            batch.drop_column(f"{side}_ports")
            batch.drop_column(f"{side}_valves")
        batch.drop_column("cylinders_per_head")


def _set_certain_layouts() -> None:
    """Of two valves, one is on each side; an engine of one cylinder has it in one head."""
    op.execute(
        "UPDATE engine_type SET intake_valves = '[\"\"]', exhaust_valves = '[\"\"]' "
        "WHERE valves_per_cylinder = 2"
    )
    op.execute(
        "UPDATE engine_type SET cylinders_per_head = 1 "
        "WHERE valves_per_cylinder = 2 AND cylinders = 1"
    )


def _rows(connection: sa.Connection, *where: sa.ColumnElement[bool]) -> list[sa.Row[Any]]:
    """Key, place and valve of measurements, with whether their engine type has two valves."""
    of_two = sa.and_(engine.c.valves_per_cylinder == 2, kind.c.code.in_(OF_A_VALVE))
    query = (
        sa.select(
            measurement.c.id, measurement.c.place, measurement.c.valve, of_two.label("of_two")
        )
        .select_from(measurement)
        .join(kind, kind.c.id == measurement.c.kind_id)
        .join(visit, visit.c.id == measurement.c.job_head_id)
        .join(head, head.c.id == visit.c.head_id)
        .join(engine, engine.c.id == head.c.engine_type_id)
        .where(*where)
    )
    return list(connection.execute(query))


def _find_valves(connection: sa.Connection) -> None:
    placed = (measurement.c.cylinder.is_not(None), measurement.c.side != "")
    for row in _rows(connection, *placed):
        marked = MARKED.fullmatch(row.place)
        if marked:
            _set(connection, row.id, int(marked[1]), marked[2] or "")
        elif row.of_two:
            _set(connection, row.id, 1, row.place)


def _valves_into_words(connection: sa.Connection) -> None:
    for row in _rows(connection, measurement.c.valve.is_not(None)):
        words = f"valve no. {row.valve}{f', {row.place}' if row.place else ''}"
        if not row.of_two and len(words) <= LONGEST_PLACE:
            _set(connection, row.id, row.valve, words)


def _set(connection: sa.Connection, key: int, valve: int, place: str) -> None:
    change = sa.update(measurement).where(measurement.c.id == key)
    connection.execute(change.values(valve=valve, place=place))
