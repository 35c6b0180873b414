"""Calibrations by points, leak tests of ranges, and uncertainties of a flow test's sizes

On the way down a calibration by points becomes the mean of its points' factors.
"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0032"
down_revision = "0031"
branch_labels = None
depends_on = None

CALIBRATION = ("model", "reading_unit", "readings", "flow_unit", "flows", "uncertainties")
"""Columns of a calibration; a flow test has them with its name before."""

TYPES = {"model": sa.String(30), "reading_unit": sa.String(10), "flow_unit": sa.String(10)}
SIZES = (
    "head_diameter",
    "stem_diameter",
    "seat_angle",
    "seat_width",
    "throat_diameter",
    "port_area",
)


FLOWS = {"L/s": 1e-3, "m3/h": 1.0 / 3600.0, "m3/s": 1.0, "cfm": 0.3048**3 / 60.0}
"""m3/s of each unit."""

BY_POINTS = {
    "calibration": "SELECT c.id, c.readings, c.reading_unit, c.flows, c.flow_unit, "
    "r.full_scale_si FROM calibration c JOIN bench_range r ON r.id = c.bench_range_id "
    "WHERE c.readings <> ''",
    "bench_session": "SELECT id, calibration_readings, calibration_reading_unit, "
    "calibration_flows, calibration_flow_unit, range_si FROM bench_session "
    "WHERE calibration_readings <> ''",
}
FACTORS = {"calibration": "factor", "bench_session": "calibration_factor"}


def upgrade() -> None:
    for table, before in (("calibration", ""), ("bench_session", "calibration_")):
        for name in CALIBRATION:
            found = TYPES.get(name, sa.Text())
            op.add_column(table, sa.Column(before + name, found, nullable=False, server_default=""))
    for name in SIZES:
        op.add_column("bench_session", sa.Column(f"u_{name}_typed", sa.String(60), nullable=True))
        op.add_column("bench_session", sa.Column(f"u_{name}_si", sa.Float(), nullable=True))
    op.create_table(
        "leak_test",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("bench_range_id", sa.Integer(), nullable=False),
        sa.Column("made_on", sa.Date(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=True),
        sa.Column("pressure_unit", sa.String(10), nullable=False, server_default=""),
        sa.Column("pressures", sa.Text(), nullable=False, server_default=""),
        sa.Column("leakage_unit", sa.String(10), nullable=False, server_default=""),
        sa.Column("leakages", sa.Text(), nullable=False, server_default=""),
        sa.Column("expanded_uncertainty_typed", sa.String(60), nullable=False),
        sa.Column("expanded_uncertainty_si", sa.Float(), nullable=False),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.CheckConstraint(
            "expanded_uncertainty_si > 0", name=op.f("ck_leak_test_uncertainty_positive")
        ),
        sa.ForeignKeyConstraint(
            ["bench_range_id"],
            ["bench_range.id"],
            name=op.f("fk_leak_test_bench_range_id_bench_range"),
        ),
        sa.ForeignKeyConstraint(
            ["person_id"], ["person.id"], name=op.f("fk_leak_test_person_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_leak_test")),
    )
    op.create_index(op.f("ix_leak_test_bench_range_id"), "leak_test", ["bench_range_id"])


def downgrade() -> None:
    for table in BY_POINTS:
        _set_factors(table)
    op.drop_table("leak_test")
    with altered("bench_session") as batch_op:
        for name in SIZES:
            batch_op.drop_column(f"u_{name}_si")
            batch_op.drop_column(f"u_{name}_typed")
        for name in CALIBRATION:
            batch_op.drop_column(f"calibration_{name}")
    with altered("calibration") as batch_op:
        for name in CALIBRATION:
            batch_op.drop_column(name)


def _set_factors(table: str) -> None:
    connection = op.get_bind()
    for key, readings, reading_unit, flows, flow_unit, full_scale in connection.execute(
        sa.text(BY_POINTS[table])
    ).all():
        of_reading = full_scale / 100.0 if reading_unit == "%" else FLOWS[reading_unit]
        ratios = [
            float(flow) * FLOWS[flow_unit] / (float(reading) * of_reading)
            for reading, flow in zip(readings.split(), flows.split(), strict=True)
        ]
        factor = f"{sum(ratios) / len(ratios):.6f}"
        connection.execute(
            sa.text(f"UPDATE {table} SET {FACTORS[table]} = :factor WHERE id = :key"),
            {"factor": factor, "key": key},
        )
