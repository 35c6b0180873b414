"""Units that a shop chooses for single quantities"""

from __future__ import annotations

import sqlalchemy as sa
from alembic import op

revision = "0075"
down_revision = "0071"
branch_labels = None
depends_on = None

UNITS = {
    "length": "'', 'in', 'mm'",
    "area": "'', 'in2', 'cm2', 'mm2'",
    "flow": "'', 'cfm', 'L/s', 'm3/h'",
    "test_pressure": "'', 'inH2O', 'mmH2O', 'kPa', 'mbar'",
    "air_pressure": "'', 'inHg', 'kPa', 'hPa', 'mbar'",
    "temperature": "'', 'degF', 'degC'",
    "velocity": "'', 'ft/s', 'm/s'",
    "force": "'', 'lbf', 'N'",
    "boost": "'', 'psi', 'bar', 'kPa'",
    "power": "'', 'hp', 'kW'",
}


def upgrade() -> None:
    with op.batch_alter_table("shop") as batch:
        for quantity, units in UNITS.items():
            name = f"{quantity}_unit"
            batch.add_column(sa.Column(name, sa.String(10), nullable=False, server_default=""))
            batch.create_check_constraint(op.f(f"ck_shop_{name}"), f"{name} IN ({units})")


def downgrade() -> None:
    with op.batch_alter_table("shop") as batch:
        for quantity in reversed(UNITS):
            batch.drop_constraint(op.f(f"ck_shop_{quantity}_unit"), type_="check")
            batch.drop_column(f"{quantity}_unit")
