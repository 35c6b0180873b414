"""Curves to draw a flow test over: this head's tests, those of its earlier visits, the best so
far."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.documents import SessionCurve
from shopflow.models import BenchSession, Head, Visit
from shopflow.services.bench import bands, cache, sessions, test_names, test_results
from shopflow.texts import gettext, translated

SIDES = ("intake", "exhaust")
MOST_DIGITS = 10


_PLACED = (
    select(BenchSession.id, Head.engine_type_id)
    .join(BenchSession.job_head)
    .join(Visit.head)
    .where(BenchSession.counts)
)
_OF_KEY = _PLACED.where(BenchSession.id == bindparam("key"))
_LATEST = (
    _PLACED.where(BenchSession.job_head_id == bindparam("stay"))
    .where(BenchSession.side == bindparam("side"))
    .order_by(BenchSession.position.desc(), BenchSession.id.desc())
    .limit(1)
)
"""Asked at every reading taken, and so put together once."""


@dataclass(frozen=True)
class Yardstick:
    """A test to be drawn over, by its key, and what it is called among the others."""

    session_id: int
    words: str


def offered(db: Session, visit: Visit) -> list[Yardstick]:
    """The tests of this visit, of this casting's earlier ones, and the best of its engine type."""
    mine = [Yardstick(row.id, _words(row)) for row in visit.sessions]
    earlier = [
        Yardstick(row.id, f"{_words(row)}, {other.tag}")
        for other in visit.head.visits
        if other is not visit
        for row in other.sessions
    ]
    keys = {curve.session_id for curve in (*mine, *earlier)}
    return [*mine, *earlier, *(curve for curve in _best(db, visit) if curve.session_id not in keys)]


def chosen(db: Session, visit: Visit, key: str, side: str) -> SessionCurve | None:
    """The test of this key as it is drawn; where there is none, the latest of this visit's side."""
    row = None
    if key.isascii() and key.isdecimal() and len(key) < MOST_DIGITS:
        row = db.execute(_OF_KEY, {"key": int(key)}).one_or_none()
    # Taken back meanwhile: the usual one serves as well.
    if row is None:
        row = db.execute(_LATEST, {"stay": visit.id, "side": side}).one_or_none()
    if row is None:
        return None
    session_id, engine_type_id = row
    return cache.unless_changed(
        db,
        (engine_type_id,),
        ("curve", session_id),
        lambda: test_results.session_curve(sessions.get(db, session_id)),
    )


def _best(db: Session, visit: Visit) -> Iterator[Yardstick]:
    for side in SIDES:
        key = bands.best_test(db, visit.head.engine_type, side)
        if key is not None:
            row = sessions.get(db, key)
            name = f"{row.job_head.tag}, {test_names.stage_name(row)}"
            yield Yardstick(
                key, gettext("{side}: the best so far, {test}", side=translated(side), test=name)
            )


def _words(row: BenchSession) -> str:
    return f"{translated(row.side)}: {test_names.session_name(row)}"
