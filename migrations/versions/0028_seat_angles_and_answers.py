"""Seat angles of hand-off notes; identification and answers of certificate drafts"""

import sqlalchemy as sa
from alembic import op

revision = "0028"
down_revision = "0027"
branch_labels = None
depends_on = None

CHECKS = {
    "seat_angle": "seat_angle_si > 0 AND seat_angle_si < 1.57",
    "allowance_one_way": "NOT (allowance_derived AND seat_angle_allowance_si IS NOT NULL)",
}


def upgrade() -> None:
    with op.batch_alter_table("valve_set_up", schema=None) as batch_op:
        batch_op.add_column(sa.Column("seat_angle_typed", sa.String(60), nullable=True))
        batch_op.add_column(sa.Column("seat_angle_si", sa.Float(), nullable=True))
        batch_op.add_column(
            sa.Column("allowance_derived", sa.Boolean(), nullable=False, server_default=sa.false())
        )
        for name, text in CHECKS.items():
            batch_op.create_check_constraint(batch_op.f(f"ck_valve_set_up_{name}"), text)
    for column in (
        sa.Column("identification", sa.Text(), nullable=False, server_default=""),
        sa.Column("answers", sa.JSON(), nullable=False, server_default="{}"),
    ):
        op.add_column("certificate_draft", column)


def downgrade() -> None:
    for name in ("answers", "identification"):
        op.drop_column("certificate_draft", name)
    with op.batch_alter_table("valve_set_up", schema=None) as batch_op:
        for name in CHECKS:
            batch_op.drop_constraint(batch_op.f(f"ck_valve_set_up_{name}"), type_="check")
        for name in ("allowance_derived", "seat_angle_si", "seat_angle_typed"):
            batch_op.drop_column(name)
