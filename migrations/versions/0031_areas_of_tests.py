"""Mean and greatest effective area of tests in place of their flows; air pressure of engines

The areas themselves are calculated from the readings once the schema is whole (migrations/env.py).
On the way down the flows come back as what those areas pass at 28 inH2O in air of 1.204 kg/m3.
"""

import sqlalchemy as sa
from alembic import op

revision = "0031"
down_revision = "0030"
branch_labels = None
depends_on = None

FLUX = {"intake": 103.59132129408258, "exhaust": 107.3714097044204}
"""m3/s at 28 inH2O in the standard air, of each m2."""


def upgrade() -> None:
    for name in ("mean", "peak"):
        _add_number(f"{name}_area")
        op.drop_column("bench_session", f"{name}_flow")
    op.add_column("engine_set_up", sa.Column("air_pressure_typed", sa.String(60), nullable=True))
    op.add_column("engine_set_up", sa.Column("air_pressure_si", sa.Float(), nullable=True))


def downgrade() -> None:
    for name in ("air_pressure_si", "air_pressure_typed"):
        op.drop_column("engine_set_up", name)
    for name in ("mean", "peak"):
        _add_number(f"{name}_flow")
    for side, flux in FLUX.items():
        op.execute(
            sa.text(
                "UPDATE bench_session SET mean_flow = mean_area * :flux, "
                "peak_flow = peak_area * :flux WHERE side = :side"
            ).bindparams(flux=flux, side=side)
        )
    for name in ("mean", "peak"):
        op.drop_column("bench_session", f"{name}_area")


def _add_number(name: str) -> None:
    op.add_column("bench_session", sa.Column(name, sa.Double(), nullable=False, server_default="0"))
