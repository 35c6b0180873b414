"""How well a shop measures each size, and sections of a manifold's runner

Before this a section was measured from the valve seat or the port flange: on the way down one of a
manifold becomes a section from the port flange, in the place "manifold", by which the way up knows
it again.
"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0053"
down_revision = "0052"
branch_labels = None
depends_on = None

BEFORE = ("valve seat", "port flange")
MANIFOLD = "manifold flange"
PLACE = "manifold"
CHECK = "ck_measurement_datum"
measurement = sa.table("measurement", sa.column("datum"), sa.column("place"))


def upgrade() -> None:
    with altered("measurement_kind") as batch:
        batch.add_column(sa.Column("uncertainty_typed", sa.String(60), nullable=True))
        batch.add_column(sa.Column("uncertainty_si", sa.Float(), nullable=True))
    _allow(*BEFORE, MANIFOLD)
    was_manifold = (measurement.c.datum == "port flange") & (measurement.c.place == PLACE)
    op.execute(sa.update(measurement).where(was_manifold).values(datum=MANIFOLD, place=""))


def downgrade() -> None:
    is_manifold = measurement.c.datum == MANIFOLD
    op.execute(sa.update(measurement).where(is_manifold).values(datum="port flange", place=PLACE))
    _allow(*BEFORE)
    with altered("measurement_kind") as batch:
        batch.drop_column("uncertainty_typed")
        batch.drop_column("uncertainty_si")


def _allow(*datums: str) -> None:
    listed = ", ".join(f"'{datum}'" for datum in datums)
    with altered("measurement") as table:
        table.drop_constraint(op.f(CHECK), type_="check")
        table.create_check_constraint(op.f(CHECK), f"datum IN ({listed})")
