"""State of a casting on arrival"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0021"
down_revision = "0020"
branch_labels = None
depends_on = None

STATES = ("as cast", "ported here", "ported elsewhere", "unknown")
LEAVES_PORTS = ("weld-repair", "guide", "valve-grind", "resurface")

# Heads that an earlier job of this shop ported; all others are unknown.
PORTED_HERE = f"""
UPDATE job_head SET casting_state = 'ported here' WHERE EXISTS (
  SELECT 1 FROM job_head AS earlier
  JOIN job AS earlier_job ON earlier_job.id = earlier.job_id
  JOIN operation ON operation.job_head_id = earlier.id
  JOIN operation_kind ON operation_kind.id = operation.kind_id
  JOIN job AS this_job ON this_job.id = job_head.job_id
  WHERE earlier.head_id = job_head.head_id
    AND earlier_job.state <> 'cancelled'
    AND earlier_job.booked_in_at < this_job.booked_in_at
    AND operation.state = 'done'
    AND operation_kind.cuts_metal
    AND operation_kind.code NOT IN {LEAVES_PORTS}
)
"""
OF_HEAD = "SELECT engine_type_id FROM head WHERE id = {row}.head_id"
WATCHED = ("head_id", "tag")
# As revision 0018 has it: what is made of an engine type's tests is old once one of these changes.
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
    # In SQLite a table made anew would lose what refers to it; a column added may have its check.
    check = f"casting_state IN {STATES}"
    if op.get_bind().dialect.name == "sqlite":
        op.execute(
            "ALTER TABLE job_head ADD COLUMN casting_state VARCHAR(30) DEFAULT 'unknown' NOT NULL "
            f"CONSTRAINT ck_job_head_castingstate CHECK ({check})"
        )
    else:
        op.add_column(
            "job_head",
            sa.Column("casting_state", sa.String(30), nullable=False, server_default="unknown"),
        )
        op.create_check_constraint(op.f("ck_job_head_castingstate"), "job_head", check)
    op.execute(PORTED_HERE)
    _watch(*WATCHED, "casting_state")


def downgrade() -> None:
    _watch(*WATCHED)
    with altered("job_head") as batch:
        batch.drop_constraint(op.f("ck_job_head_castingstate"), type_="check")
        batch.drop_column("casting_state")


def _watch(*columns: str) -> None:
    """Have the tests of a head's engine type marked as changed where one of these columns is."""
    dialect = op.get_bind().dialect.name
    when = f"AFTER UPDATE OF {', '.join(columns)} ON job_head"
    if dialect == "postgresql":
        op.execute("DROP TRIGGER session_stamp_stay ON job_head")
        op.execute(
            f"CREATE TRIGGER session_stamp_stay {when} FOR EACH ROW "
            "EXECUTE FUNCTION session_stamp_stay()"
        )
        return
    op.execute("DROP TRIGGER session_stamp_stay")
    changed = " UNION ".join(OF_HEAD.format(row=row) for row in ("OLD", "NEW"))
    stamped = STAMP.format(mark=MARK[dialect], types=changed)
    op.execute(f"CREATE TRIGGER session_stamp_stay {when} BEGIN {stamped} END")
