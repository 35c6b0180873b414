"""Cases that an earlier schema did not have, calculated when a database is brought up to date.

It runs in the migration's own transaction (migrations/env.py), while there is no case at all.
"""

from __future__ import annotations

from sqlalchemy import Connection, func, select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import ValidationError
from shopflow.models import (
    BenchSession,
    GainCase,
    Operation,
    OperationKind,
    OperationState,
    SessionLift,
    Visit,
)
from shopflow.services.bench import sessions

BLOCK = 200
"""Heads whose tests are read at once."""

_CUT = (
    select(Operation.job_head_id)
    .join(OperationKind, Operation.kind_id == OperationKind.id)
    .where(Operation.state == OperationState.DONE, OperationKind.cuts_metal)
)
_WANTED = (
    select(BenchSession.job_head_id)
    .where(BenchSession.counts, BenchSession.job_head_id.in_(_CUT))
    .group_by(BenchSession.job_head_id, BenchSession.side, BenchSession.cylinder)
    .having(func.count() > 1)
    .distinct()
)


def fill(connection: Connection) -> None:
    """Calculate all cases, in blocks of heads.

    Heads with tests that give no results stay without; `shopflow check` names them.
    """
    if connection.scalar(select(GainCase.id).limit(1)) is not None:
        return
    heads = sorted(connection.scalars(_WANTED))
    for start in range(0, len(heads), BLOCK):
        with Session(connection, join_transaction_mode="create_savepoint") as db:
            _of_heads(db, heads[start : start + BLOCK])
            db.commit()


def _of_heads(db: Session, heads: list[int]) -> None:
    query = select(Visit).where(Visit.id.in_(heads))
    tests = selectinload(Visit.sessions)
    for visit in db.scalars(
        query.options(
            tests.selectinload(BenchSession.lifts).selectinload(SessionLift.readings),
            tests.selectinload(BenchSession.after_operation),
            selectinload(Visit.operations),
        )
    ).all():
        try:
            sessions.renew_cases(db, visit)
        except (ValidationError, ValueError):
            continue
