"""Conditions of bolt holes and threads: kinds of measurement whose values are words

On the way down they go with all that was recorded of them: before, a value was a number.
"""

import sqlalchemy as sa
from alembic import op

revision = "0045"
down_revision = "0047"
branch_labels = None
depends_on = None

KINDS = (
    ("bolt hole condition", "Bolt hole condition", "head"),
    ("thread condition", "Thread condition", "head"),
    ("plug thread", "Spark plug thread", "cylinder"),
)
FIRST = 500
"""Position after the last of the kinds that every shop had."""

COLUMNS = "id", "code", "name", "dimension", "us_unit", "si_unit", "place_kind", "us_decimals"
kind = sa.table(
    "measurement_kind",
    *map(sa.column, (*COLUMNS, "si_decimals", "active", "version", "position")),
)
measurement = sa.table("measurement", *map(sa.column, ("id", "kind_id")))
decision = sa.table("decision", sa.column("measurement_id"))
OF_A_KIND = (
    measurement,
    sa.table("engine_limit", sa.column("kind_id")),
    sa.table("usual_value", sa.column("kind_id")),
)


def upgrade() -> None:
    connection = op.get_bind()
    taken = {text.lower() for row in connection.execute(sa.select(kind.c.code, kind.c.name))
             for text in row}  # fmt: skip
    if not taken:
        # A new shop gets its kinds when it is set up.
        return
    moved = kind.c.position + 10 * len(KINDS)
    connection.execute(sa.update(kind).where(kind.c.position >= FIRST).values(position=moved))
    for place, (code, name, place_kind) in enumerate(KINDS):
        if code in taken:
            continue
        # The shop may have a kind of its own by this name.
        shown = f"{name} (good or damaged)" if name.lower() in taken else name
        connection.execute(
            sa.insert(kind).values(
                code=code, name=shown, dimension="condition", us_unit="", si_unit="",
                place_kind=place_kind, us_decimals=0, si_decimals=0, active=True, version=1,
                position=FIRST + 10 * place,
            )
        )  # fmt: skip


def downgrade() -> None:
    connection = op.get_bind()
    conditions = sa.select(kind.c.id).where(kind.c.dimension == "condition").scalar_subquery()
    rows = sa.select(measurement.c.id).where(measurement.c.kind_id.in_(conditions))
    connection.execute(
        sa.delete(decision).where(decision.c.measurement_id.in_(rows.scalar_subquery()))
    )
    for table in OF_A_KIND:
        connection.execute(sa.delete(table).where(table.c.kind_id.in_(conditions)))
    connection.execute(sa.delete(kind).where(kind.c.dimension == "condition"))
    moved = kind.c.position - 10 * len(KINDS)
    last = FIRST + 10 * len(KINDS)
    connection.execute(sa.update(kind).where(kind.c.position >= last).values(position=moved))
