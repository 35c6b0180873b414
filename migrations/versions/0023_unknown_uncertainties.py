"""Uncertainties of a flow test that may be unknown, its gauge, and what its scale is marked for"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

STATED = {"calibration": "0 %", "repeatability": "0 %", "pressure": "0 %", "lift": "0 mm"}
"""What a blank was stored as."""

ADDED = ("u_resolution", "u_leakage", "u_density", "scale_density")


def upgrade() -> None:
    with altered("bench_session") as batch_op:
        batch_op.add_column(
            sa.Column("gauge_mark", sa.String(200), nullable=False, server_default="")
        )
        for name in ADDED:
            batch_op.add_column(sa.Column(f"{name}_typed", sa.String(60), nullable=True))
            batch_op.add_column(sa.Column(f"{name}_si", sa.Float(), nullable=True))
        _set_nullable(batch_op, True)
    for name, blank in STATED.items():
        op.execute(
            sa.text(
                f"UPDATE bench_session SET u_{name}_typed = NULL, u_{name}_si = NULL "
                f"WHERE u_{name}_typed = :blank"
            ).bindparams(blank=blank)
        )


def downgrade() -> None:
    for name, blank in STATED.items():
        op.execute(
            sa.text(
                f"UPDATE bench_session SET u_{name}_typed = :blank, u_{name}_si = 0 "
                f"WHERE u_{name}_typed IS NULL"
            ).bindparams(blank=blank)
        )
    with altered("bench_session") as batch_op:
        _set_nullable(batch_op, False)
        for name in ADDED:
            batch_op.drop_column(f"{name}_si")
            batch_op.drop_column(f"{name}_typed")
        batch_op.drop_column("gauge_mark")


def _set_nullable(batch_op, nullable: bool) -> None:  # type: ignore[no-untyped-def]
    for name in STATED:
        batch_op.alter_column(
            f"u_{name}_typed", existing_type=sa.String(60), existing_nullable=not nullable,
            nullable=nullable,
        )  # fmt: skip
        batch_op.alter_column(
            f"u_{name}_si", existing_type=sa.Float(), existing_nullable=not nullable,
            nullable=nullable,
        )  # fmt: skip
