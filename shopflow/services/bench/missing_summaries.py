"""Summaries that an earlier schema did not have, calculated when a database is brought up to date.

It runs in the migration's own transaction (migrations/env.py), once the schema is the models'.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from itertools import groupby
from typing import Any

from sqlalchemy import Connection, bindparam, select, update
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.errors import ValidationError
from shopflow.models import BenchSession, SessionLift
from shopflow.services.bench import sessions

MISSING = 0.0
"""Mean area of a test without a summary; no area is 0."""

BLOCK = 500
"""Heads whose tests are read at once."""

FIGURES = ("mean_area", "peak_area", "gain_over_first")

_TABLE: Any = BenchSession.__table__
_STORED = (
    update(_TABLE)
    .where(_TABLE.c.id == bindparam("key"))
    .values({name: bindparam(name) for name in FIGURES})
)
_WHOLE = (
    selectinload(BenchSession.lifts).selectinload(SessionLift.readings),
    joinedload(BenchSession.after_operation),
)


def fill(connection: Connection) -> None:
    """Calculate what is missing, in blocks of heads.

    Tests that give no figures stay without; `shopflow check` names them.
    """
    missing = select(BenchSession.job_head_id).where(BenchSession.mean_area == MISSING).distinct()
    heads = sorted(connection.scalars(missing))
    for start in range(0, len(heads), BLOCK):
        rows = list(_rows(connection, heads[start : start + BLOCK]))
        if rows:
            connection.execute(_STORED, rows)


def _rows(connection: Connection, heads: Sequence[int]) -> Iterator[dict[str, Any]]:
    query = select(BenchSession).where(BenchSession.job_head_id.in_(heads)).options(*_WHOLE)
    with Session(connection, join_transaction_mode="create_savepoint") as db:
        tests = db.scalars(query.order_by(BenchSession.job_head_id)).all()
        for _, of_head in groupby(tests, lambda row: row.job_head_id):
            yield from _of_head(list(of_head))


def _of_head(tests: Sequence[BenchSession]) -> Iterator[dict[str, Any]]:
    try:
        for row, summary in sessions.summaries(row for row in tests if row.counts):
            yield {"key": row.id, **{name: summary[name] for name in FIGURES}}
        for row in tests:
            if not row.counts:
                curve = sessions.reduction(row).curve
                gain = {"gain_over_first": row.gain_over_first}
                yield {"key": row.id, "mean_area": curve.mean, "peak_area": curve.peak, **gain}
    except (ValidationError, ValueError):
        return
