"""Heads whose work plan another head may be given: those on its job, or as a search finds them."""

from __future__ import annotations

from collections.abc import Iterable

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import Head, Job, Operation, Visit
from shopflow.services.registry.engine_types import NAME_ONLY
from shopflow.services.routing import operations
from shopflow.services.search import past_jobs

MOST_OFFERED = 12


def to_copy(db: Session, visit: Visit, text: str = "") -> list[Visit]:
    """Heads with a plan that may be meant, the likeliest first.

    Without a text those on the same job, then the latest of the same engine type; with one those
    that a look-up finds by it.
    """
    if text.strip():
        rows = past_jobs.past_jobs(db, text, MOST_OFFERED)
        return _planned(db, visit, [row.tag for row in rows])
    same_type = (
        select(Visit.tag)
        .join(Visit.head)
        .join(Visit.job)
        .where(Head.engine_type_id == visit.head.engine_type_id, Visit.operations.any())
        .order_by(Job.booked_in_at.desc(), Visit.id)
        .limit(MOST_OFFERED)
    )
    own = [row.tag for row in visit.job.heads]
    return _planned(db, visit, [*own, *db.scalars(same_type)])


def _planned(db: Session, visit: Visit, tags: Iterable[str]) -> list[Visit]:
    """The heads with these labels that have steps to copy, in this order, but the head itself."""
    wanted = list(dict.fromkeys(tags))
    query = (
        select(Visit)
        .where(Visit.tag.in_(wanted), Visit.id != visit.id)
        .options(
            joinedload(Visit.job).joinedload(Job.customer),
            joinedload(Visit.head).joinedload(Head.engine_type).options(*NAME_ONLY),
            selectinload(Visit.operations).joinedload(Operation.kind),
        )
    )
    by_tag = {row.tag: row for row in db.scalars(query)}
    rows = (by_tag[tag] for tag in wanted if tag in by_tag)
    return [row for row in rows if operations.steps_to_copy(row)][:MOST_OFFERED]
