"""Calendar feeds: a person's secret address, and the promised dates it gives."""

from __future__ import annotations

import secrets
import uuid
from dataclasses import dataclass
from datetime import date, datetime

from sqlalchemy import func, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.errors import NotFoundError, RuleError
from shopflow.models import CalendarFeed, Event, Head, Job, User, Visit
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.jobs.jobs import OPEN_JOBS
from shopflow.services.registry.customer_links import TOKEN_BYTES, digest
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext, translated

JOBS = uuid.UUID("5c5d2c5e-0d6f-4b57-9a41-6f0b6a0f6a10")
"""The namespace of our events' identities (RFC 9562, 5.5); drawn once, never changed."""


@dataclass(frozen=True)
class Promise:
    """An open job's promised day, as a calendar shows it."""

    uid: str
    day: date
    title: str
    about: str
    address: str
    changed_at: datetime
    sequence: int


def of_person(db: Session, person: User) -> CalendarFeed | None:
    """The feed a person has now."""
    query = select(CalendarFeed).where(
        CalendarFeed.person_id == person.id, CalendarFeed.revoked_at.is_(None)
    )
    return db.scalars(query).one_or_none()


def make(db: Session, by: Actor, person: User) -> tuple[CalendarFeed, str]:
    """A new feed for a person, and its secret, which nobody can be told again.

    The one they had before is revoked.
    """
    before = of_person(db, person)
    if before is not None:
        before.revoked_at = by.at
    token = secrets.token_urlsafe(TOKEN_BYTES)
    feed = CalendarFeed(person_id=person.id, token_sha256=digest(token), made_at=by.at)
    db.add(feed)
    audit_log.record(db, by, feed, "renewed" if before else "made", note=person.login)
    return feed, token


def revoke(db: Session, by: Actor, person: User) -> None:
    """Shut a person's feed for good. Raises RuleError where there is none."""
    feed = of_person(db, person)
    if feed is None:
        raise RuleError(gettext("there is no calendar address to revoke"))
    feed.revoked_at = by.at
    audit_log.record(db, by, feed, "revoked", note=person.login)


def opened_by(db: Session, token: str) -> CalendarFeed:
    """The feed a secret opens, while its user works here.

    Raises NotFoundError alike for what is wrong, revoked, or of someone who has left.
    """
    query = (
        select(CalendarFeed)
        .where(CalendarFeed.token_sha256 == digest(token), CalendarFeed.revoked_at.is_(None))
        .options(joinedload(CalendarFeed.person))
    )
    feed = db.scalars(query).one_or_none()
    if feed is None or not feed.person.active:
        raise NotFoundError(gettext("this calendar address does not work: create a new one"))
    return feed


def promises(db: Session, *, names: bool) -> list[Promise]:
    """The promised days of open jobs, soonest first; with the customer where `names` is set."""
    query = (
        select(Job)
        .where(Job.id.in_(OPEN_JOBS), Job.promised_on.is_not(None))
        .order_by(Job.promised_on, Job.number)
        .options(
            joinedload(Job.customer),
            selectinload(Job.heads).joinedload(Visit.head).joinedload(Head.engine_type),
        )
    )
    jobs = db.scalars(query).all()
    changed = _last_changes(db, [job.id for job in jobs])
    web = get_shop(db).web_address
    return [_promise(job, changed.get(job.id, job.booked_in_at), web, names) for job in jobs]


def _promise(job: Job, changed_at: datetime, web: str, names: bool) -> Promise:
    assert job.promised_on is not None
    types = list(dict.fromkeys(visit.head.engine_type.title for visit in job.heads))
    tags = ", ".join(visit.tag for visit in job.heads)
    title = f"{job.number}: {', '.join(types)}"
    return Promise(
        # Two shops may number alike, but do not book a job in at the same microsecond.
        uid=str(uuid.uuid5(JOBS, f"{job.number} {job.booked_in_at.isoformat()}")),
        day=job.promised_on,
        title=f"{title}, {job.customer.name}" if names else title,
        about=gettext(
            "{state}. Heads: {heads}", state=translated(job.state.value).capitalize(), heads=tags
        ),
        address=f"{web}/jobs/{job.number}" if web else "",
        changed_at=changed_at,
        sequence=job.version,
    )


def _last_changes(db: Session, jobs: list[int]) -> dict[int, datetime]:
    """Time of the last event on each of these jobs."""
    query = (
        select(Event.job_id, func.max(Event.at))
        .where(Event.job_id.in_(jobs))
        .group_by(Event.job_id)
    )
    return {key: at for key, at in db.execute(query) if key is not None}
