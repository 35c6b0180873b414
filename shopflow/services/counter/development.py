"""Development: flow tests of a casting that nobody booked in, and their move to a job later."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import RuleError
from shopflow.models import BenchSession, Customer, EngineType, Head, Job, JobState, Visit
from shopflow.models.head import GONE
from shopflow.services import audit_log, withdrawals
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions, test_drafts
from shopflow.services.counter.booking import numbered, tag_of
from shopflow.services.jobs.jobs import OPEN_JOBS
from shopflow.services.numbering import next_number
from shopflow.services.registry import castings, customers, heads
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

_STANDING = (
    select(Visit)
    .join(Visit.job)
    .join(Visit.head)
    .where(Job.state == JobState.DEVELOPMENT, Job.closed_at.is_(None), Head.status.not_in(GONE))
    .order_by(Job.id.desc())
)
_WITH_NAMES = (joinedload(Visit.head).joinedload(Head.engine_type), joinedload(Visit.job))


def standing(db: Session) -> list[Visit]:
    """Development visits that have not ended, the latest first."""
    return list(db.scalars(_STANDING.options(*_WITH_NAMES)))


def begin(db: Session, by: Actor, head: Head) -> Visit:
    """The standing development visit of a casting, begun where there is none.

    Raises RuleError for a casting that was scrapped, sold or returned.
    """
    if head.status in GONE:
        raise RuleError(
            gettext("this casting is {status}: choose another one", status=head.status.value)
        )
    visit = db.scalars(_STANDING.where(Visit.head_id == head.id)).first()
    return visit or _begin(db, by, head)


def begin_new(db: Session, by: Actor, engine_type: EngineType, values: Mapping[str, Any]) -> Visit:
    """Record a casting without an owner, and begin its development. Raises ValidationError."""
    return begin(db, by, heads.create(db, by, engine_type, None, values))


def end(db: Session, by: Actor, visit: Visit) -> None:
    """End the development of a casting; its tests stay. Raises RuleError."""
    _must_stand(visit)
    if test_drafts.of_head(db, visit) is not None:
        raise RuleError(
            gettext("a flow test of this head is being taken: save or discard that one first")
        )
    audit_log.change(db, by, visit.job, {"closed_at": by.at}, job=visit.job, verb="ended")


def offered_for(db: Session, visit: Visit) -> list[Visit]:
    """Heads on open jobs that the tests may move to: those of its engine type, itself first."""
    query = (
        select(Visit)
        .join(Visit.job)
        .join(Visit.head)
        .where(Visit.job_id.in_(OPEN_JOBS), Head.engine_type_id == visit.head.engine_type_id)
        .order_by(Job.booked_in_at.desc(), Visit.position)
        .options(joinedload(Visit.head), joinedload(Visit.job).joinedload(Job.customer))
    )
    return sorted(db.scalars(query), key=lambda other: other.head_id != visit.head_id)


def move_tests(db: Session, by: Actor, visit: Visit, to: Visit) -> None:
    """Move every flow test of a development visit to a head on a job, and end the development.

    Raises RuleError where the head is no open job's of that engine type, a test is being taken, or
    a certificate states one of the tests.
    """
    if to not in offered_for(db, visit):
        raise RuleError(gettext("choose a head of this engine type on an open job"))
    moved = [*visit.sessions, *visit.withdrawn_sessions]
    _must_not_be_stated(db, moved)
    end(db, by, visit)
    for row in moved:
        row.job_head, row.after_operation = to, None
        note = gettext("from {label}", label=visit.tag)
        audit_log.record(db, by, row, "moved", job=to.job, note=note)
    db.flush()
    for changed in (visit, to):
        db.expire(changed, ["sessions", "withdrawn_sessions"])
        sessions.renew_summaries(db, changed)
    db.flush()


def _begin(db: Session, by: Actor, head: Head) -> Visit:
    year = by.at.astimezone(zone(get_shop(db))).year
    job = Job(
        number=numbered(year, next_number(db, "job", year)),
        customer=_shop_as_customer(db, by),
        state=JobState.DEVELOPMENT,
        booked_in_at=by.at,
    )
    db.add(job)
    audit_log.record(db, by, job, "begun", job=job)
    state, tag = castings.state_of(head), tag_of(job.number, 1)
    visit = Visit(job=job, head=head, position=1, tag=tag, casting_state=state)
    db.add(visit)
    db.flush()
    return visit


def _shop_as_customer(db: Session, by: Actor) -> Customer:
    """The customer that stands for the shop itself, added with the first development."""
    is_own = Job.heads.any(Visit.head.has(Head.from_open_data.is_(False)))
    earlier = select(Customer).join(Customer.jobs).where(Job.state == JobState.DEVELOPMENT, is_own)
    customer = db.scalars(earlier.order_by(Job.id.desc()).limit(1)).first()
    if customer is not None:
        return customer
    values = {"name": get_shop(db).name, "is_firm": True, "notes": gettext("The shop itself.")}
    return customers.create(db, by, values)


def _must_stand(visit: Visit) -> None:
    if not (visit.job.is_development and visit.job.is_open):
        raise RuleError(gettext("{label} is not in development", label=visit.tag))


def _must_not_be_stated(db: Session, rows: Sequence[BenchSession]) -> None:
    stated = {str(paper.number) for row in rows for paper in withdrawals.certificates_on(db, row)}
    if stated:
        raise RuleError(
            gettext(
                "certificate {numbers} states tests of this head: they stay where they are",
                numbers=", ".join(sorted(stated)),
            )
        )
