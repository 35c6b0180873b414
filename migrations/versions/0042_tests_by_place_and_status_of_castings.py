"""Pressure, vacuum, leak and crack tests by place, their limits; the status of castings

Results on record keep their meaning: no place is the whole head, "cylinder 2" that cylinder, any
other a region in words; the medium of a crack test was its method. On the way down a place goes
into words and comes back from there; a result beside the work plan goes to the head's first step.
Results of heads without steps, and those withdrawn, have no place below.
"""

import re
from typing import Any

import sqlalchemy as sa
from alembic import op

from shopflow.altering import altered

revision = "0042"
down_revision = "0039"
branch_labels = None
depends_on = None

KINDS = "'pressure test', 'vacuum test', 'leak test', 'crack test'"
VERDICTS = "'passed', 'watch', 'repairable', 'failed'"
CHECKS = {
    "medium_or_method": "medium <> '' OR method <> ''",
    "volume_positive": "volume_si > 0",
    "temperature_positive": "temperature_si > 0",
    "cylinder_counted": "cylinder >= 1",
    "valve_counted": "valve >= 1",
    "side": "side IN ('', 'intake', 'exhaust')",
    "region_in_words": "part <> 'region' OR place <> ''",
    "part_numbered": "part IN ('head', 'region') OR (cylinder IS NOT NULL AND "
    "(part = 'cylinder' OR side <> ''))",
    "withdrawal_has_reason": "(withdrawn_at IS NULL) = (withdrawn_because = '')",
    "integritypart": "part IN ('head', 'cylinder', 'port', 'valve', 'guide', 'region')",
    "integrityverdict": f"verdict IN ({VERDICTS})",
    "proposedverdict": f"proposed IN ({VERDICTS})",
}
STATUS = {
    "headstatus": "status IN ('in use', 'spare', 'scrapped', 'sold', 'returned')",
    "status_has_reason": "status IN ('in use', 'spare') OR status_because <> ''",
    "offered_spare": "offered_job_id IS NULL OR status = 'spare'",
}
QUANTITIES = ("volume", "temperature")
REFERENCES = {"job_head_id": "job_head", "photo_id": "job_file", "withdrawn_by_id": "person"}
INDEXED = ("job_head_id", "photo_id")
WORDS = re.compile(
    r"(cylinder|port|valve|guide) ([1-9][0-9]{0,2})(?: (intake|exhaust))?(?: no\. ([1-9][0-9]?))?"
)
"""A place in words, as it is written on the way down; "cylinder 2" may be as typed."""

test = sa.table(
    "integrity_test",
    *map(
        sa.column,
        (
            "id", "kind", "operation_id", "job_head_id", "part", "cylinder", "side", "valve",
            "place", "medium", "method", "passed", "verdict", "withdrawn_at",
        ),
    ),
)  # fmt: skip
step = sa.table("operation", sa.column("id"), sa.column("job_head_id"))
decision = sa.table("decision", sa.column("integrity_test_id"))


def upgrade() -> None:
    with altered("integrity_test") as batch:
        for name in ("job_head_id", "cylinder", "valve", "photo_id", "withdrawn_by_id"):
            batch.add_column(sa.Column(name, sa.Integer(), nullable=True))
        batch.add_column(sa.Column("part", sa.String(30), nullable=False, server_default="head"))
        batch.add_column(sa.Column("side", sa.String(10), nullable=False, server_default=""))
        for name in ("spot", "method", "limits", "withdrawn_because"):
            batch.add_column(sa.Column(name, sa.String(200), nullable=False, server_default=""))
        for name in QUANTITIES:
            batch.add_column(sa.Column(f"{name}_typed", sa.String(60), nullable=True))
            batch.add_column(sa.Column(f"{name}_si", sa.Float(), nullable=True))
        batch.add_column(sa.Column("verdict", sa.String(30), nullable=True))
        batch.add_column(sa.Column("proposed", sa.String(30), nullable=True))
        batch.add_column(sa.Column("withdrawn_at", sa.DateTime(timezone=True), nullable=True))
        batch.alter_column("operation_id", existing_type=sa.Integer(), nullable=True)
        batch.drop_constraint(op.f("ck_integrity_test_medium_given"), type_="check")
    _fill(op.get_bind())
    with altered("integrity_test") as batch:
        batch.alter_column("job_head_id", existing_type=sa.Integer(), nullable=False)
        batch.alter_column("verdict", existing_type=sa.String(30), nullable=False)
        batch.drop_column("passed")
        for name, text in CHECKS.items():
            batch.create_check_constraint(op.f(f"ck_integrity_test_{name}"), text)
        for name, table in REFERENCES.items():
            batch.create_foreign_key(
                op.f(f"fk_integrity_test_{name}_{table}"), table, [name], ["id"]
            )
    for name in INDEXED:
        op.create_index(op.f(f"ix_integrity_test_{name}"), "integrity_test", [name])
    _create_limits()
    with altered("head") as batch:
        batch.add_column(sa.Column("status", sa.String(30), nullable=False,
                                   server_default="in use"))  # fmt: skip
        batch.add_column(sa.Column("status_because", sa.String(200), nullable=False,
                                   server_default=""))  # fmt: skip
        batch.add_column(sa.Column("status_at", sa.DateTime(timezone=True), nullable=True))
        batch.add_column(sa.Column("status_by_id", sa.Integer(), nullable=True))
        batch.add_column(sa.Column("offered_job_id", sa.Integer(), nullable=True))
        for name, text in STATUS.items():
            batch.create_check_constraint(op.f(f"ck_head_{name}"), text)
        batch.create_foreign_key(
            op.f("fk_head_status_by_id_person"), "person", ["status_by_id"], ["id"]
        )
        batch.create_foreign_key(
            op.f("fk_head_offered_job_id_job"), "job", ["offered_job_id"], ["id"]
        )
    for name in ("status", "offered_job_id"):
        op.create_index(op.f(f"ix_head_{name}"), "head", [name])


def downgrade() -> None:
    for name in ("status", "offered_job_id"):
        op.drop_index(op.f(f"ix_head_{name}"), "head")
    with altered("head") as batch:
        for name in STATUS:
            batch.drop_constraint(op.f(f"ck_head_{name}"), type_="check")
        batch.drop_constraint(op.f("fk_head_status_by_id_person"), type_="foreignkey")
        batch.drop_constraint(op.f("fk_head_offered_job_id_job"), type_="foreignkey")
        for name in ("status", "status_because", "status_at", "status_by_id", "offered_job_id"):
            batch.drop_column(name)
    op.drop_table("integrity_limit")
    for name in INDEXED:
        op.drop_index(op.f(f"ix_integrity_test_{name}"), "integrity_test")
    with altered("integrity_test") as batch:
        batch.add_column(sa.Column("passed", sa.Boolean(), nullable=True))
        for name in CHECKS:
            batch.drop_constraint(op.f(f"ck_integrity_test_{name}"), type_="check")
    _empty(op.get_bind())
    with altered("integrity_test") as batch:
        for name, table in REFERENCES.items():
            batch.drop_constraint(op.f(f"fk_integrity_test_{name}_{table}"), type_="foreignkey")
        for name in (
            *REFERENCES, "cylinder", "valve", "part", "side", "spot", "method", "limits",
            "withdrawn_because", "verdict", "proposed", "withdrawn_at",
            *(f"{name}_{kept}" for name in QUANTITIES for kept in ("typed", "si")),
        ):  # fmt: skip
            batch.drop_column(name)
        batch.alter_column("passed", existing_type=sa.Boolean(), nullable=False)
        batch.alter_column("operation_id", existing_type=sa.Integer(), nullable=False)
        batch.create_check_constraint(op.f("ck_integrity_test_medium_given"), "medium <> ''")


def _create_limits() -> None:
    op.create_table(
        "integrity_limit",
        sa.Column("id", sa.Integer(), nullable=False),
        sa.Column("engine_type_id", sa.Integer(), nullable=False),
        sa.Column("kind", sa.String(30), nullable=False),
        sa.Column("side", sa.String(10), nullable=False),
        sa.Column("least_pressure_typed", sa.String(60), nullable=True),
        sa.Column("least_pressure_si", sa.Float(), nullable=True),
        sa.Column("most_drop_typed", sa.String(60), nullable=True),
        sa.Column("most_drop_si", sa.Float(), nullable=True),
        sa.Column("least_duration_typed", sa.String(60), nullable=True),
        sa.Column("least_duration_si", sa.Float(), nullable=True),
        sa.Column("source", sa.String(200), nullable=False),
        sa.Column("version", sa.Integer(), nullable=False),
        sa.CheckConstraint(f"kind IN ({KINDS})", name=op.f("ck_integrity_limit_integritykind")),
        sa.CheckConstraint(
            "side IN ('', 'intake', 'exhaust')", name=op.f("ck_integrity_limit_side")
        ),
        sa.CheckConstraint(
            "least_pressure_si IS NOT NULL OR most_drop_si IS NOT NULL",
            name=op.f("ck_integrity_limit_limits_something"),
        ),
        sa.CheckConstraint(
            "least_pressure_si > 0", name=op.f("ck_integrity_limit_pressure_positive")
        ),
        sa.CheckConstraint(
            "most_drop_si >= 0", name=op.f("ck_integrity_limit_drop_not_negative")
        ),
        sa.CheckConstraint(
            "least_duration_si > 0", name=op.f("ck_integrity_limit_duration_positive")
        ),
        sa.ForeignKeyConstraint(
            ["engine_type_id"], ["engine_type.id"],
            name=op.f("fk_integrity_limit_engine_type_id_engine_type"),
        ),
        sa.PrimaryKeyConstraint("id", name=op.f("pk_integrity_limit")),
        sa.UniqueConstraint(
            "engine_type_id", "kind", "side",
            name=op.f("uq_integrity_limit_engine_type_id_kind_side"),
        ),
    )  # fmt: skip


def _fill(connection: sa.Connection) -> None:
    """Give results on record their head, their verdict and their place."""
    of_step = sa.select(step.c.job_head_id).where(step.c.id == test.c.operation_id)
    passed = sa.case((test.c.passed.is_(sa.true()), "passed"), else_="failed")
    connection.execute(
        sa.update(test).values(job_head_id=of_step.scalar_subquery(), verdict=passed)
    )
    connection.execute(
        sa.update(test).where(test.c.kind == "crack test").values(method=test.c.medium, medium="")
    )
    for row in connection.execute(sa.select(test.c.id, test.c.place).where(test.c.place != "")):
        connection.execute(sa.update(test).where(test.c.id == row.id).values(**_place(row.place)))


def _place(words: str) -> dict[str, Any]:
    match = WORDS.fullmatch(words)
    if match is None:
        return {"part": "region"}
    part, cylinder, side, valve = match.groups()
    if part != "cylinder" and not side:
        return {"part": "region"}
    return {
        "part": part, "cylinder": int(cylinder), "side": side or "",
        "valve": int(valve) if valve else None, "place": "",
    }  # fmt: skip


def _empty(connection: sa.Connection) -> None:
    """Put places into words; results that have no place below go, with the decisions on them."""
    first = sa.select(sa.func.min(step.c.id)).where(step.c.job_head_id == test.c.job_head_id)
    connection.execute(
        sa.update(test)
        .where(test.c.operation_id.is_(None))
        .values(operation_id=first.scalar_subquery())
    )
    gone = sa.or_(test.c.operation_id.is_(None), test.c.withdrawn_at.is_not(None))
    ids = sa.select(test.c.id).where(gone)
    connection.execute(sa.delete(decision).where(decision.c.integrity_test_id.in_(ids)))
    connection.execute(sa.delete(test).where(gone))
    good = sa.case((test.c.verdict.in_(("passed", "watch")), sa.true()), else_=sa.false())
    connection.execute(sa.update(test).values(passed=good))
    of_method = sa.case((test.c.medium == "", test.c.method), else_=test.c.medium)
    connection.execute(sa.update(test).values(medium=of_method))
    placed = sa.select(test).where(test.c.part.not_in(("head", "region")))
    for row in connection.execute(placed.with_only_columns(
        test.c.id, test.c.part, test.c.cylinder, test.c.side, test.c.valve
    )):  # fmt: skip
        side = f" {row.side}" if row.side else ""
        valve = f" no. {row.valve}" if row.valve else ""
        words = f"{row.part} {row.cylinder}{side}{valve}"
        connection.execute(sa.update(test).where(test.c.id == row.id).values(place=words))
