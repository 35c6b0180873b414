"""Marks that change with the tests of an engine type"""

import sqlalchemy as sa
from alembic import op

revision = "0018"
down_revision = "0017"
branch_labels = None
depends_on = None

OF_HEAD = "SELECT engine_type_id FROM head WHERE id = {row}.head_id"
OF_STAY = (
    "SELECT head.engine_type_id FROM job_head JOIN head ON head.id = job_head.head_id "
    "WHERE job_head.id = {row}.job_head_id"
)
OF_SESSION = (
    "SELECT head.engine_type_id FROM bench_session "
    "JOIN job_head ON job_head.id = bench_session.job_head_id "
    "JOIN head ON head.id = job_head.head_id WHERE bench_session.{column} = {row}.{key}"
)
OF_LIFT = OF_SESSION.format(column="id", row="{row}", key="session_id")
OF_OPERATION = OF_SESSION.format(column="after_operation_id", row="{row}", key="id")
OF_READING = (
    "SELECT head.engine_type_id FROM session_lift "
    "JOIN bench_session ON bench_session.id = session_lift.session_id "
    "JOIN job_head ON job_head.id = bench_session.job_head_id "
    "JOIN head ON head.id = job_head.head_id WHERE session_lift.id = {row}.session_lift_id"
)
OLD_AND_NEW = ("OLD", "NEW")
# What a trigger watches: on which table, and of which engine types the tests are then others.
# Lifts and readings come with their test, so that its own row tells of them.
WATCHED = {
    "session_stamp_came": ("bench_session", "INSERT", OF_STAY, ("NEW",)),
    "session_stamp_changed": ("bench_session", "UPDATE", OF_STAY, OLD_AND_NEW),
    "session_stamp_gone": ("bench_session", "DELETE", OF_STAY, ("OLD",)),
    "session_stamp_lift_changed": ("session_lift", "UPDATE", OF_LIFT, OLD_AND_NEW),
    "session_stamp_lift_gone": ("session_lift", "DELETE", OF_LIFT, ("OLD",)),
    "session_stamp_reading_changed": ("reading", "UPDATE", OF_READING, OLD_AND_NEW),
    "session_stamp_reading_gone": ("reading", "DELETE", OF_READING, ("OLD",)),
    "session_stamp_stay": ("job_head", "UPDATE OF head_id, tag", OF_HEAD, OLD_AND_NEW),
    "session_stamp_head": ("head", "UPDATE OF engine_type_id", "SELECT {row}.engine_type_id AS "
                        "engine_type_id", OLD_AND_NEW),
    "session_stamp_operation": ("operation", "UPDATE OF kind_id", OF_OPERATION, ("NEW",)),
    "session_stamp_kind": ("operation_kind", "UPDATE OF name", "SELECT id AS engine_type_id "
                        "FROM engine_type", ("NEW",)),
}  # fmt: skip
# In PostgreSQL one and the same for all that a transaction does: a row written anew at each test
# of an import would leave as many dead ones to be passed over.
MARK = {
    "sqlite": "lower(hex(randomblob(16)))",
    "postgresql": "txid_current() || ' ' || extract(epoch FROM now())",
}
STAMP = """
INSERT INTO session_stamp (engine_type_id, stamp)
SELECT engine_type_id, {mark} FROM ({types}) AS changed WHERE true
ON CONFLICT (engine_type_id) DO UPDATE SET stamp = excluded.stamp
WHERE session_stamp.stamp <> excluded.stamp;
"""


def upgrade() -> None:
    op.create_table(
        "session_stamp",
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("stamp", sa.String(80), nullable=False),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"],
            name=op.f("fk_session_stamp_engine_type_id_engine_type"), ondelete="CASCADE",
        ),
        sa.PrimaryKeyConstraint("engine_type_id", name=op.f("pk_session_stamp")),
    )  # fmt: skip
    dialect = op.get_bind().dialect.name
    for name, (table, verb, types, rows) in WATCHED.items():
        # UNION: of a change within one engine type, that one once.
        changed = " UNION ".join(types.format(row=row) for row in rows)
        stamped = STAMP.format(mark=MARK[dialect], types=changed)
        if dialect == "sqlite":
            op.execute(f"CREATE TRIGGER {name} AFTER {verb} ON {table} BEGIN {stamped} END")
            continue
        op.execute(
            f"CREATE FUNCTION {name}() RETURNS trigger LANGUAGE plpgsql AS $$ "
            f"BEGIN {stamped} RETURN NULL; END $$"
        )
        op.execute(
            f"CREATE TRIGGER {name} AFTER {verb} ON {table} FOR EACH ROW EXECUTE FUNCTION {name}()"
        )


def downgrade() -> None:
    for name in WATCHED:
        if op.get_bind().dialect.name == "sqlite":
            op.execute(f"DROP TRIGGER {name}")
        else:
            op.execute(f"DROP FUNCTION {name}() CASCADE")
    op.drop_table("session_stamp")
