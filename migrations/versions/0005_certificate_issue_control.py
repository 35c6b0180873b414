"""certificate issue control: drafts, codes, withdrawals, and triggers that keep what is issued"""

import hashlib
import json
from typing import Any

import sqlalchemy as sa
from alembic import op

revision = "0005"
down_revision = "0004"
branch_labels = None
depends_on = None


REFUSAL = "an issued certificate cannot be changed or deleted"
ISSUED = (
    "id", "number", "revision", "revision_reason", "supersedes_id", "job_id", "issued_at",
    "issued_by_id", "snapshot", "pdf", "sha256", "code",
)  # fmt: skip
# What a trigger keeps, by its name: on which table, against what, and where only sometimes, when.
REFUSED = {
    "certificate_kept": ("certificate", f"UPDATE OF {', '.join(ISSUED)}", ""),
    "certificate_withdrawal_kept": ("certificate", "UPDATE", "OLD.withdrawn_at IS NOT NULL"),
    "certificate_not_deleted": ("certificate", "DELETE", ""),
    "certificate_session_kept": ("certificate_session", "UPDATE", ""),
    "certificate_session_not_deleted": ("certificate_session", "DELETE", ""),
    "certificate_draft_kept": ("certificate_draft", "UPDATE", "OLD.certificate_id IS NOT NULL"),
    "certificate_draft_not_deleted": (
        "certificate_draft", "DELETE", "OLD.certificate_id IS NOT NULL",
    ),
}  # fmt: skip
# SQLite fires no DELETE trigger for the row that INSERT OR REPLACE takes away.
NOT_REPLACED = """
CREATE TRIGGER certificate_not_replaced BEFORE INSERT ON certificate
WHEN EXISTS (
    SELECT 1 FROM certificate
    WHERE id = NEW.id OR (number = NEW.number AND revision = NEW.revision)
)
BEGIN SELECT RAISE(ABORT, '{refusal}'); END
"""
REFUSE = """
CREATE FUNCTION refuse_change_of_issued() RETURNS trigger LANGUAGE plpgsql AS $$
BEGIN
    RAISE EXCEPTION '{refusal}' USING ERRCODE = 'integrity_constraint_violation';
END
$$
"""
KEPT = {
    "sqlite": [
        *(
            f"CREATE TRIGGER {name} BEFORE {verb} ON {table} "
            + (f"WHEN {when} " if when else "")
            + f"BEGIN SELECT RAISE(ABORT, '{REFUSAL}'); END"
            for name, (table, verb, when) in REFUSED.items()
        ),
        NOT_REPLACED.format(refusal=REFUSAL),
    ],
    "postgresql": [
        REFUSE.format(refusal=REFUSAL),
        *(
            f"CREATE TRIGGER {name} BEFORE {verb} ON {table} FOR EACH ROW "
            + (f"WHEN ({when}) " if when else "")
            + "EXECUTE FUNCTION refuse_change_of_issued()"
            for name, (table, verb, when) in REFUSED.items()
        ),
        *(
            f"CREATE TRIGGER {table}_not_emptied BEFORE TRUNCATE ON {table} "
            "EXECUTE FUNCTION refuse_change_of_issued()"
            for table in ("certificate", "certificate_session")
        ),
    ],
}
LET_GO = {
    "sqlite": [f"DROP TRIGGER {name}" for name in (*REFUSED, "certificate_not_replaced")],
    "postgresql": ["DROP FUNCTION refuse_change_of_issued() CASCADE"],
}


def upgrade() -> None:
    op.create_table(
        "certificate_draft",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("job_head_id", sa.Integer(), nullable=False),
        sa.Column("replaces_id", sa.Integer(), nullable=True),
        sa.Column("reason", sa.Text(), nullable=False),
        sa.Column(
            "baseline",
            sa.Enum(
                "the first",
                "the one before",
                "nothing",
                name="baseline",
                native_enum=False,
                create_constraint=True,
                length=30,
            ),
            nullable=False,
        ),
        sa.Column("departures", sa.Text(), nullable=False),
        sa.Column("opinions", sa.Text(), nullable=False),
        sa.Column("written_at", sa.DateTime(timezone=True), nullable=False),
        sa.Column("written_by_id", sa.Integer(), nullable=False),
        sa.Column("checked_at", sa.DateTime(timezone=True), nullable=True),
        sa.Column("checked_by_id", sa.Integer(), nullable=True),
        sa.Column("check_statement", sa.Text(), nullable=False),
        sa.Column("checked_fingerprint", sa.String(length=64), nullable=False),
        sa.Column("certificate_id", sa.Integer(), nullable=True),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(
            "checked_by_id IS NULL OR checked_by_id <> written_by_id OR check_statement <> ''",
            name=op.f("ck_certificate_draft_own_check_has_statement"),
        ),
        sa.CheckConstraint(
            "replaces_id IS NULL OR reason <> ''",
            name=op.f("ck_certificate_draft_correction_has_reason"),
        ),
        sa.CheckConstraint(
            "(checked_at IS NULL) = (checked_by_id IS NULL)",
            name=op.f("ck_certificate_draft_checked_by_someone"),
        ),
        sa.CheckConstraint(
            "certificate_id IS NULL OR checked_at IS NOT NULL",
            name=op.f("ck_certificate_draft_checked_first"),
        ),
        sa.ForeignKeyConstraint(
            ["certificate_id"],
            ["certificate.id"],
            name=op.f("fk_certificate_draft_certificate_id_certificate"),
        ),
        sa.ForeignKeyConstraint(
            ["checked_by_id"], ["person.id"], name=op.f("fk_certificate_draft_checked_by_id_person")
        ),
        sa.ForeignKeyConstraint(
            ["job_head_id"], ["job_head.id"], name=op.f("fk_certificate_draft_job_head_id_job_head")
        ),
        sa.ForeignKeyConstraint(
            ["replaces_id"],
            ["certificate.id"],
            name=op.f("fk_certificate_draft_replaces_id_certificate"),
        ),
        sa.ForeignKeyConstraint(
            ["written_by_id"], ["person.id"], name=op.f("fk_certificate_draft_written_by_id_person")
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_certificate_draft")),
        sa.UniqueConstraint("certificate_id", name=op.f("uq_certificate_draft_certificate_id")),
    )
    with op.batch_alter_table("certificate_draft", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_certificate_draft_job_head_id"), ["job_head_id"], unique=False
        )

    op.create_table(
        "certificate_draft_session",
        sa.Column("draft_id", sa.Integer(), nullable=False),
        sa.Column("session_id", sa.Integer(), nullable=False),
        sa.Column("position", sa.Integer(), nullable=False),
        sa.ForeignKeyConstraint(
            ["draft_id"],
            ["certificate_draft.id"],
            name=op.f("fk_certificate_draft_session_draft_id_certificate_draft"),
        ),
        sa.ForeignKeyConstraint(
            ["session_id"],
            ["bench_session.id"],
            name=op.f("fk_certificate_draft_session_session_id_bench_session"),
        ),
        sa.PrimaryKeyConstraint(
            "draft_id", "session_id", name=op.f("pk_certificate_draft_session")
        ),
    )
    with op.batch_alter_table("certificate_draft_session", schema=None) as batch_op:
        batch_op.create_index(
            batch_op.f("ix_certificate_draft_session_session_id"), ["session_id"], unique=False
        )

    with op.batch_alter_table("certificate", schema=None) as batch_op:
        batch_op.add_column(sa.Column("code", sa.String(length=19), nullable=True))
        batch_op.add_column(sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True))
        batch_op.add_column(sa.Column("withdrawn_by_id", sa.Integer(), nullable=True))
        batch_op.add_column(sa.Column("withdrawal_reason", sa.Text(), nullable=True))
    _fill()
    with op.batch_alter_table("certificate", schema=None) as batch_op:
        batch_op.alter_column("code", existing_type=sa.String(length=19), nullable=False)
        batch_op.alter_column("withdrawal_reason", existing_type=sa.Text(), nullable=False)
        batch_op.create_index(batch_op.f("ix_certificate_sha256"), ["sha256"], unique=False)
        batch_op.create_foreign_key(
            batch_op.f("fk_certificate_withdrawn_by_id_person"),
            "person",
            ["withdrawn_by_id"],
            ["id"],
        )
        batch_op.create_check_constraint(
            batch_op.f("ck_certificate_withdrawn_by_someone"),
            "(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL) "
            "AND (withdrawn_at IS NULL) = (withdrawal_reason = '')",
        )
    for statement in KEPT[op.get_bind().dialect.name]:
        op.execute(statement)


def downgrade() -> None:
    for statement in LET_GO[op.get_bind().dialect.name]:
        op.execute(statement)
    with op.batch_alter_table("certificate", schema=None) as batch_op:
        batch_op.drop_constraint(batch_op.f("ck_certificate_withdrawn_by_someone"), type_="check")
        batch_op.drop_constraint(
            batch_op.f("fk_certificate_withdrawn_by_id_person"), type_="foreignkey"
        )
        batch_op.drop_index(batch_op.f("ix_certificate_sha256"))
        batch_op.drop_column("withdrawal_reason")
        batch_op.drop_column("withdrawn_by_id")
        batch_op.drop_column("withdrawn_at")
        batch_op.drop_column("code")

    with op.batch_alter_table("certificate_draft_session", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_certificate_draft_session_session_id"))

    op.drop_table("certificate_draft_session")
    with op.batch_alter_table("certificate_draft", schema=None) as batch_op:
        batch_op.drop_index(batch_op.f("ix_certificate_draft_job_head_id"))

    op.drop_table("certificate_draft")


def _fill() -> None:
    """Give certificates issued before the code that stands printed on them."""
    certificate = sa.table(
        "certificate",
        sa.column("id", sa.Integer),
        sa.column("snapshot", sa.JSON),
        sa.column("code", sa.String),
        sa.column("withdrawal_reason", sa.Text),
    )
    connection = op.get_bind()
    rows = connection.execute(sa.select(certificate.c.id, certificate.c.snapshot)).all()
    for key, snapshot in rows:
        values = {"code": _code(snapshot), "withdrawal_reason": ""}
        connection.execute(certificate.update().where(certificate.c.id == key).values(values))


def _code(snapshot: dict[str, Any]) -> str:
    """Sixteen digits of the snapshot's SHA-256, its address left out."""
    plain = {**snapshot, "url": ""}
    text = json.dumps(plain, sort_keys=True, separators=(",", ":"), ensure_ascii=False)
    digits = hashlib.sha256(text.encode()).hexdigest()[:16].upper()
    return "-".join(digits[place : place + 4] for place in range(0, 16, 4))
