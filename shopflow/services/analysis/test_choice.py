"""The choice of flow tests to compare: by key, of a head, of a job, or by a search."""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.errors import NotFoundError
from shopflow.models import BenchSession, Head, Job, Visit
from shopflow.services.search import past_jobs
from shopflow.texts import gettext

MOST = 8
"""Sessions compared at a time: as many as colour and mark tell apart."""

SIDES = ("intake", "exhaust")


def chosen(db: Session, keys: Iterable[int]) -> list[BenchSession]:
    """Tests by their keys, in that order, each once; of one that was corrected the correction.

    Raises NotFoundError for one that is not on record or was withdrawn.
    """
    wanted = _current(db, keys)
    visit = joinedload(BenchSession.job_head)
    query = (
        select(BenchSession)
        .where(BenchSession.id.in_(wanted), BenchSession.counts)
        .options(
            visit.joinedload(Visit.head).joinedload(Head.engine_type),
            visit.joinedload(Visit.job),
            selectinload(BenchSession.lifts),
            selectinload(BenchSession.set_up_confirmations),
        )
    )
    rows = {row.id: row for row in db.scalars(query)}
    if len(rows) < len(wanted):
        missing = next(key for key in wanted if key not in rows)
        raise NotFoundError(
            gettext("flow test {missing} was withdrawn, or is not on record", missing=missing)
        )
    return [rows[key] for key in wanted]


def _current(db: Session, keys: Iterable[int]) -> list[int]:
    """The keys of the tests that replace these after corrections, each once."""
    wanted = list(dict.fromkeys(keys))
    query = select(BenchSession.id, BenchSession.replaced_by_id)
    while replaced := {
        key: by
        for key, by in db.execute(query.where(BenchSession.id.in_(wanted)))
        if by is not None
    }:
        wanted = list(dict.fromkeys(replaced.get(key, key) for key in wanted))
    return wanted


def on_offer(db: Session, text: str, near: Sequence[BenchSession], limit: int = 12) -> list[Visit]:
    """Heads whose sessions may be added: those a text means, else those of the same jobs.

    Where neither a text nor a session says what is wanted, the heads tested last.
    """
    query = select(Visit).join(Visit.job)
    if text.strip():
        tags = [past.tag for past in past_jobs.past_jobs(db, text, limit)]
        query = query.where(Visit.tag.in_(tags))
    elif near:
        query = query.where(Visit.job_id.in_({row.job_head.job_id for row in near}))
    else:
        query = query.where(Visit.sessions.any())
    query = query.order_by(Job.booked_in_at.desc(), Visit.position).limit(limit)
    head = joinedload(Visit.head).joinedload(Head.engine_type)
    return list(
        db.scalars(
            query.options(head, joinedload(Visit.job), selectinload(Visit.sessions))
        ).unique()
    )


def latest_of_ports(visits: Sequence[Visit]) -> list[BenchSession]:
    """The last session of each port of these heads, the intakes first; as many of each head."""
    latest: list[BenchSession] = []
    for visit in visits:
        ports = {(row.side, row.cylinder): row for row in visit.sessions}
        rows = sorted(ports.values(), key=lambda row: SIDES.index(row.side))
        latest += rows[: max(1, MOST // len(visits))]
    return latest[:MOST]


def first_and_last(visit: Visit) -> list[BenchSession]:
    """Each side's port tested last, as it came and as it is now; else all the head's sessions."""
    ports: dict[tuple[str, str], list[BenchSession]] = {}
    for row in visit.sessions:
        ports.setdefault((row.side, row.cylinder), []).append(row)
    ends = [[rows[0], rows[-1]] for rows in ports.values() if len(rows) > 1]
    ends.sort(key=lambda pair: pair[1].position)
    of_sides = {pair[1].side: pair for pair in ends}
    chosen = [row for side in SIDES for row in of_sides.get(side, ())]
    return chosen or list(visit.sessions[:MOST])
