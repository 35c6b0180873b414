"""Time spent, decisions on figures, releases and limits by engine type"""

import sqlalchemy as sa
from alembic import op

revision = "0009"
down_revision = "0008"
branch_labels = None
depends_on = None

AGAIN = "Done again because: "
OPERATION = sa.table(
    "operation",
    sa.column("id", sa.Integer()),
    sa.column("notes", sa.Text()),
    sa.column("again_because", sa.Text()),
)
MOMENT = sa.DateTime(timezone=True)


def upgrade() -> None:
    op.add_column(
        "operation", sa.Column("again_because", sa.Text(), nullable=False, server_default="")
    )
    op.add_column(
        "operation", sa.Column("found", sa.Boolean(), nullable=False, server_default=sa.false())
    )
    _notes_to_reasons(op.get_bind())
    _time_spent()
    _decision()
    _release()
    _engine_limit()


def _notes_to_reasons(connection: sa.Connection) -> None:
    """Take back what a downgrade put into the notes."""
    rows = connection.execute(
        sa.select(OPERATION.c.id, OPERATION.c.notes).where(OPERATION.c.notes.startswith(AGAIN))
    )
    for key, notes in rows.all():
        reason, _, rest = notes.removeprefix(AGAIN).partition("\n")
        connection.execute(
            OPERATION.update().where(OPERATION.c.id == key).values(again_because=reason, notes=rest)
        )


def _reasons_to_notes(connection: sa.Connection) -> None:
    """Keep why steps were done again where the schema before has a place for it."""
    columns = (OPERATION.c.id, OPERATION.c.again_because, OPERATION.c.notes)
    rows = connection.execute(sa.select(*columns).where(OPERATION.c.again_because != ""))
    for key, reason, notes in rows.all():
        said = f"{AGAIN}{' '.join(reason.split())}\n{notes}".rstrip("\n")
        connection.execute(OPERATION.update().where(OPERATION.c.id == key).values(notes=said))


def _time_spent() -> None:
    op.create_table(
        "time_spent",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("started_at", MOMENT, nullable=False),
        sa.Column("ended_at", MOMENT, nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("ended_at >= started_at", name=op.f("ck_time_spent_ends_after_start")),
        *_references("time_spent", operation_id="operation", person_id="person"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_time_spent")),
    )
    op.create_index(op.f("ix_time_spent_operation_id"), "time_spent", ["operation_id"])
    op.create_index(op.f("ix_time_spent_person_id"), "time_spent", ["person_id"])
    running = sa.text("ended_at IS NULL")
    op.create_index(
        "ix_time_spent_running",
        "time_spent",
        ["person_id"],
        unique=True,
        sqlite_where=running,
        postgresql_where=running,
    )


def _decision() -> None:
    op.create_table(
        "decision",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("measurement_id", sa.Integer(), nullable=False),
        sa.Column("choice", sa.String(30), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column("figure", sa.String(200), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "choice IN ('go on as it is', 'do it again', 'ask the customer')",
            name=op.f("ck_decision_choice"),
        ),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_decision_has_reason")),
        *_references("decision", measurement_id="measurement", person_id="person"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_decision")),
    )
    op.create_index(op.f("ix_decision_measurement_id"), "decision", ["measurement_id"])


def _release() -> None:
    op.create_table(
        "release",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("operation_id", sa.Integer(), nullable=False),
        sa.Column("at", MOMENT, nullable=False),
        sa.Column("person_id", sa.Integer(), nullable=False),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.CheckConstraint("reason <> ''", name=op.f("ck_release_has_reason")),
        *_references("release", operation_id="operation", person_id="person"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_release")),
        sa.UniqueConstraint("operation_id", name=op.f("uq_release_operation_id")),
    )


def _engine_limit() -> None:
    op.create_table(
        "engine_limit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("kind_id", sa.Integer(), nullable=False),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("lower_typed", sa.String(60), nullable=True),
        sa.Column("lower_si", sa.Float(), nullable=True),
        sa.Column("upper_typed", sa.String(60), nullable=True),
        sa.Column("upper_si", sa.Float(), nullable=True),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint("lower_si <= upper_si", name=op.f("ck_engine_limit_limits_in_order")),
        sa.CheckConstraint(
            "lower_si IS NOT NULL OR upper_si IS NOT NULL",
            name=op.f("ck_engine_limit_limits_something"),
        ),
        sa.CheckConstraint("side IN ('', 'intake', 'exhaust')", name=op.f("ck_engine_limit_side")),
        *_references("engine_limit", engine_type_id="engine_type", kind_id="measurement_kind"),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_engine_limit")),
        sa.UniqueConstraint(
            "engine_type_id",
            "kind_id",
            "side",
            name=op.f("uq_engine_limit_engine_type_id_kind_id_side"),
        ),
    )
    op.create_index(op.f("ix_engine_limit_kind_id"), "engine_limit", ["kind_id"])


def _references(table: str, **targets: str) -> list[sa.ForeignKeyConstraint]:
    return [
        sa.ForeignKeyConstraint(
            [column], [f"{target}.id"], name=op.f(f"fk_{table}_{column}_{target}")
        )
        for column, target in targets.items()
    ]


def downgrade() -> None:
    for table in ("engine_limit", "release", "decision", "time_spent"):
        op.drop_table(table)
    _reasons_to_notes(op.get_bind())
    op.drop_column("operation", "found")
    op.drop_column("operation", "again_because")
