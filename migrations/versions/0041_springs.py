"""Springs as loads by height, of heads and engine types; the shims a shop has on hand"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0041"
down_revision = "0042"
branch_labels = None
depends_on = None

QUANTITIES = (
    "coil_bind_height", "wanted_height", "least_bind_room", "least_retainer_room", "valve_lift",
    "lobe_lift", "lash",
)  # fmt: skip
CHECKS = {
    "of_one": "(engine_type_id IS NULL) <> (job_head_id IS NULL)",
    "side": "side IN ('intake', 'exhaust')",
    "coil_bind_positive": "coil_bind_height_si > 0",
    "wanted_height_positive": "wanted_height_si > 0",
    "bind_room_not_negative": "least_bind_room_si >= 0",
    "retainer_room_not_negative": "least_retainer_room_si >= 0",
    "valve_lift_positive": "valve_lift_si > 0",
    "lobe_lift_positive": "lobe_lift_si > 0",
    "lash_not_negative": "lash_si >= 0",
}


def upgrade() -> None:
    op.create_table(
        "spring",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=True),
        sa.Column("job_head_id", sa.Integer(), nullable=True),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("name", sa.String(200), nullable=False),
        *(column for name in QUANTITIES for column in _quantity(name, nullable=True)),
        sa.Column("rocker_ratio", sa.String(40), nullable=True),
        sa.Column("notes", sa.Text(), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        *(
            sa.CheckConstraint(text, name=op.f(f"ck_spring_{name}"))
            for name, text in CHECKS.items()
        ),
        *(
            sa.ForeignKeyConstraint(
                [f"{table}_id"], [f"{table}.id"], name=op.f(f"fk_spring_{table}_id_{table}")
            )
            for table in ("engine_type", "job_head")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spring")),
        *(
            sa.UniqueConstraint(f"{table}_id", "side", name=op.f(f"uq_spring_{table}_id_side"))
            for table in ("engine_type", "job_head")
        ),
    )
    op.create_table(
        "spring_point",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("spring_id", sa.Integer(), nullable=False),
        *_quantity("height", nullable=False),
        *_quantity("load", nullable=False),
        sa.Column("measured", sa.Boolean(), nullable=False, server_default=sa.false()),
        sa.CheckConstraint("height_si > 0", name=op.f("ck_spring_point_height_positive")),
        sa.CheckConstraint("load_si >= 0", name=op.f("ck_spring_point_load_not_negative")),
        sa.ForeignKeyConstraint(
            ["spring_id"], ["spring.id"], name=op.f("fk_spring_point_spring_id_spring")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_spring_point")),
        sa.UniqueConstraint(
            "spring_id", "height_si", name=op.f("uq_spring_point_spring_id_height_si")
        ),
    )
    op.create_index(op.f("ix_spring_point_spring_id"), "spring_point", ["spring_id"])
    with altered("shop") as batch:
        batch.add_column(
            sa.Column("spring_shims", sa.String(200), nullable=False, server_default="")
        )


def downgrade() -> None:
    with altered("shop") as batch:
        batch.drop_column("spring_shims")
    op.drop_table("spring_point")
    op.drop_table("spring")


def _quantity(name: str, *, nullable: bool) -> list[sa.Column[object]]:
    return [
        sa.Column(f"{name}_typed", sa.String(60), nullable=nullable),
        sa.Column(f"{name}_si", sa.Float(), nullable=nullable),
    ]
