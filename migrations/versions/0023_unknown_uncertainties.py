"""Uncertainties of a flow test that may be unknown, its gauge, and what its scale is marked for"""

import sqlalchemy as sa
from alembic import op

revision = "0023"
down_revision = "0022"
branch_labels = None
depends_on = None

STATED = {"calibration": "0 %", "repeatability": "0 %", "pressure": "0 %", "lift": "0 mm"}
"""What a blank was stored as."""

ADDED = ("u_resolution", "u_leakage", "u_density", "scale_density")
TRIGGERS = "SELECT name, sql FROM sqlite_master WHERE type = 'trigger'"


def upgrade() -> None:
    triggers = _dropped_triggers()
    with op.batch_alter_table("bench_session", schema=None) as batch_op:
        batch_op.add_column(
            sa.Column("gauge_mark", sa.String(200), nullable=False, server_default="")
        )
        for name in ADDED:
            batch_op.add_column(sa.Column(f"{name}_typed", sa.String(60), nullable=True))
            batch_op.add_column(sa.Column(f"{name}_si", sa.Float(), nullable=True))
        _set_nullable(batch_op, True)
    _made_again(triggers)
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
    triggers = _dropped_triggers()
    with op.batch_alter_table("bench_session", schema=None) as batch_op:
        _set_nullable(batch_op, False)
        for name in ADDED:
            batch_op.drop_column(f"{name}_si")
            batch_op.drop_column(f"{name}_typed")
        batch_op.drop_column("gauge_mark")
    _made_again(triggers)


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


def _dropped_triggers() -> list[str]:
    """Triggers taken away where the table is rebuilt: those of others name it too."""
    connection = op.get_bind()
    if connection.dialect.name != "sqlite":
        return []
    naming = [row for row in connection.execute(sa.text(TRIGGERS)) if "bench_session" in row.sql]
    for row in naming:
        op.execute(f"DROP TRIGGER {row.name}")
    return [row.sql for row in naming]


def _made_again(triggers: list[str]) -> None:
    for sql in triggers:
        # As driver SQL: a colon in it is no parameter.
        op.get_bind().exec_driver_sql(sql)
