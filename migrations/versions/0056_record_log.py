"""The log of record versions, its head and anchors, and where its head is mailed to"""

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0056"
down_revision = "0055"
branch_labels = None
depends_on = None

REFUSAL = "the log of records is only appended to"
NAMES = {"record_log_not_changed": "UPDATE", "record_log_not_deleted": "DELETE"}
REFUSE = f"""
CREATE FUNCTION refuse_change_of_record_log() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{REFUSAL}' USING ERRCODE = 'integrity_constraint_violation';
END
$$
"""
KINDS = "kind IN ('start', 'upgrade', 'accepted', 'mail', 'time stamp')"


def upgrade() -> None:
    op.create_table(
        "record_log",
        sa.Column("number", sa.BigInteger(), autoincrement=False, nullable=False),
        sa.Column("subject", sa.String(40), nullable=False),
        sa.Column("subject_key", sa.String(60), nullable=False),
        sa.Column("digest", sa.LargeBinary(), nullable=True),
        sa.Column("replaces", sa.LargeBinary(), nullable=True),
        sa.PrimaryKeyConstraint("number", name=op.f("pk_record_log")),
    )
    op.create_table(
        "record_log_head",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("stack", sa.LargeBinary(), nullable=False),
        sa.CheckConstraint("id = 1", name=op.f("ck_record_log_head_only_one")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_record_log_head")),
    )
    op.create_table(
        "record_log_anchor",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("size", sa.BigInteger(), nullable=False),
        sa.Column("root", sa.String(64), nullable=False),
        sa.Column("sent_to", sa.String(200), nullable=False, server_default=""),
        sa.Column("reply", sa.LargeBinary(), nullable=True),
        sa.CheckConstraint(KINDS, name=op.f("ck_record_log_anchor_anchorkind")),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_record_log_anchor")),
    )
    if op.get_bind().dialect.name == "postgresql":
        op.execute(REFUSE)
    for name, verb in NAMES.items():
        if op.get_bind().dialect.name == "sqlite":
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {verb} ON record_log "
                f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            )
        else:
            op.execute(
                f"CREATE TRIGGER {name} BEFORE {verb} ON record_log FOR EACH ROW "
                "EXECUTE FUNCTION refuse_change_of_record_log()"
            )
    with altered("mail_server") as table:
        table.add_column(
            sa.Column("log_head_to", sa.String(200), nullable=False, server_default="")
        )


def downgrade() -> None:
    with altered("mail_server") as table:
        table.drop_column("log_head_to")
    for name in NAMES:
        on_table = " ON record_log" if op.get_bind().dialect.name == "postgresql" else ""
        op.execute(f"DROP TRIGGER {name}{on_table}")
    if op.get_bind().dialect.name == "postgresql":
        op.execute("DROP FUNCTION refuse_change_of_record_log")
    op.drop_table("record_log_anchor")
    op.drop_table("record_log_head")
    op.drop_table("record_log")
