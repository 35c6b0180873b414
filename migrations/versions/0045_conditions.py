"""Conditions of bolt holes and threads: kinds of measurement whose values are words

Before this a value was a number: on the way down a word becomes its rank in percent, "2 %" for the
second of them, and its kind one of a ratio without a unit, by which the way up knows it again.
"""

import sqlalchemy as sa
from alembic import op

revision = "0045"
down_revision = "0047"
branch_labels = None
depends_on = None

CONDITIONS = ("good", "repaired", "damaged")
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
QUANTITIES = {
    "measurement": ("value", "lower", "upper"),
    "engine_limit": ("lower", "upper"),
    "usual_value": ("value",),
}
"""Quantities in the dimension of a kind, by table."""


def upgrade() -> None:
    connection = op.get_bind()
    names = {row.code: row.name for row in connection.execute(sa.select(kind.c.code, kind.c.name))}
    if not names:
        # A new shop gets its kinds when it is set up.
        return
    were_here = (kind.c.dimension == "ratio") & (kind.c.us_unit == "")
    ids = list(connection.scalars(sa.select(kind.c.id).where(were_here)))
    connection.execute(sa.update(kind).where(kind.c.id.in_(ids)).values(dimension="condition"))
    for rank, word in enumerate(CONDITIONS, start=1):
        _rewrite(connection, ids, (f"{rank} %", rank / 100), (word, float(rank)))
    _add(connection, names)


def downgrade() -> None:
    connection = op.get_bind()
    ids = list(connection.scalars(sa.select(kind.c.id).where(kind.c.dimension == "condition")))
    for rank, word in enumerate(CONDITIONS, start=1):
        _rewrite(connection, ids, (word, float(rank)), (f"{rank} %", rank / 100))
    connection.execute(sa.update(kind).where(kind.c.id.in_(ids)).values(dimension="ratio"))


def _add(connection: sa.Connection, names: dict[str, str]) -> None:
    """Add the kinds, before those of the shop's own; the ones that are there get their fields."""
    if not any(code in names for code, *_ in KINDS):
        moved = kind.c.position + 10 * len(KINDS)
        connection.execute(sa.update(kind).where(kind.c.position >= FIRST).values(position=moved))
    taken = {name.lower() for name in names.values()}
    for place, (code, name, place_kind) in enumerate(KINDS):
        values = {
            "dimension": "condition", "us_unit": "", "si_unit": "", "place_kind": place_kind,
            "us_decimals": 0, "si_decimals": 0, "position": FIRST + 10 * place,
        }  # fmt: skip
        if code in names:
            connection.execute(sa.update(kind).where(kind.c.code == code).values(**values))
            continue
        # The shop may have a kind of its own by this name.
        shown = f"{name} (good or damaged)" if name.lower() in taken else name
        row = {"code": code, "name": shown, "active": True, "version": 1, **values}
        connection.execute(sa.insert(kind).values(**row))


def _rewrite(
    connection: sa.Connection, ids: list[int], old: tuple[str, float], new: tuple[str, float]
) -> None:
    """Give another text and SI value to every quantity of these kinds that has this text."""
    for table, quantities in QUANTITIES.items():
        for name in quantities:
            typed, si = f"{name}_typed", f"{name}_si"
            rows = sa.table(table, *map(sa.column, ("kind_id", typed, si)))
            connection.execute(
                sa.update(rows)
                .where(rows.c.kind_id.in_(ids), rows.c[typed] == old[0])
                .values({typed: new[0], si: new[1]})
            )
