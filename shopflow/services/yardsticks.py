"""What a flow test can be drawn over: this head's tests, its earlier stays', the best so far."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import BenchSession, JobHead
from shopflow.services import bands, outcomes, sessions

SIDES = ("intake", "exhaust")
MOST_DIGITS = 10


@dataclass(frozen=True)
class Yardstick:
    """A test to be drawn over, by its key, and what it is called among the others."""

    session_id: int
    words: str


def offered(db: Session, stay: JobHead) -> list[Yardstick]:
    """The tests of this stay, of this casting's earlier ones, and the best of its engine type."""
    mine = [Yardstick(row.id, _words(row)) for row in stay.sessions]
    earlier = [
        Yardstick(row.id, f"{_words(row)}, {visit.tag}")
        for visit in stay.head.visits
        if visit is not stay
        for row in visit.sessions
    ]
    known = {one.session_id for one in (*mine, *earlier)}
    return [*mine, *earlier, *(one for one in _best(db, stay) if one.session_id not in known)]


def chosen(db: Session, stay: JobHead, key: str, side: str) -> BenchSession | None:
    """The test of this key; where there is none, the latest of this stay's side, if any."""
    if key.isascii() and key.isdecimal() and len(key) < MOST_DIGITS:
        try:
            return sessions.get(db, int(key))
        except NotFoundError:
            # Taken back meanwhile: the usual one serves as well.
            pass
    same = [row for row in stay.sessions if row.side == side]
    return same[-1] if same else None


def _best(db: Session, stay: JobHead) -> Iterator[Yardstick]:
    for side in SIDES:
        key = bands.best_test(db, stay.head.engine_type, side)
        if key is not None:
            row = sessions.get(db, key)
            name = f"{row.job_head.tag}, {outcomes.stage_name(row)}"
            yield Yardstick(key, f"{side}: the best so far, {name}")


def _words(row: BenchSession) -> str:
    return f"{row.side}: {outcomes.session_name(row)}"
