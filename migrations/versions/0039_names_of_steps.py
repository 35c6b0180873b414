"""Built-in steps are named by verbs, as "Cut seats"; a name that the shop gave is kept"""

import sqlalchemy as sa
from alembic import op

revision = "0039"
down_revision = "0037"
branch_labels = None
depends_on = None

NAMES = {
    "teardown": ("Teardown", "Tear down"),
    "hot-wash": ("Hot wash", "Hot-wash"),
    "bead-blast": ("Bead blast", "Bead-blast"),
    "inspection": ("Inspection and measuring", "Inspect and measure"),
    "crack-check": ("Crack check", "Check for cracks"),
    "pressure-test": ("Pressure test", "Pressure-test"),
    "weld-repair": ("Weld repair", "Repair by welding"),
    "guide": ("Guides fitted and sized", "Fit and size guides"),
    "seat-insert": ("Seat inserts fitted", "Fit seat inserts"),
    "seat-cut": ("Seat cut", "Cut seats"),
    "valve-grind": ("Valve grind", "Grind valves"),
    "throat-cut": ("Throat cut", "Cut throats to size"),
    "port-work": ("Port work", "Port"),
    "chamber-work": ("Chamber work", "Rework chambers"),
    "vacuum-test": ("Vacuum test", "Vacuum-test"),
    "leak-test": ("Leak test", "Leak-test"),
    "flow-test": ("Flow test", "Flow-test"),
    "assembly": ("Assembly", "Assemble"),
}
"""Code, and its name before and after."""

kind = sa.table("operation_kind", sa.column("code"), sa.column("name"))


def upgrade() -> None:
    for code, (before, after) in NAMES.items():
        _rename(code, before, after)


def downgrade() -> None:
    for code, (before, after) in NAMES.items():
        _rename(code, after, before)


def _rename(code: str, old: str, new: str) -> None:
    """Rename a built-in kind that still has its old name, unless another kind has the new one."""
    connection = op.get_bind()
    same = sa.select(kind.c.code).where(sa.func.lower(kind.c.name) == new.lower())
    if connection.execute(same.where(kind.c.code != code)).first() is None:
        connection.execute(
            sa.update(kind).where(kind.c.code == code, kind.c.name == old).values(name=new)
        )
