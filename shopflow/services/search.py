"""One box over everything: jobs, heads, customers, engine types."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from sqlalchemy import false, or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.models import Certificate, Head, Job
from shopflow.services import customers, engines, lookup
from shopflow.services.customers import contains
from shopflow.services.meaning import numbers_like

MOST_OF_A_KIND = 12


@dataclass(frozen=True)
class Hit:
    """One thing found: its key, and its kind as "certificate", "job" or "engine type"."""

    kind: str
    title: str
    detail: str
    key: str


def everything(db: Session, text: str) -> list[Hit]:
    """What a text may mean, the most particular kinds first; no hits for an empty text."""
    text = text.replace("\x00", "").strip()
    if not text:
        return []
    hits = dict.fromkeys(
        [
            *_certificates(db, text),
            *_jobs(db, text),
            *_heads(db, text),
            *_customers(db, text),
            *_engine_types(db, text),
        ]
    )
    return list(hits)


def _certificates(db: Session, text: str) -> Iterator[Hit]:
    query = (
        select(Certificate)
        .where(or_(false(), *numbers_like(text, Certificate.number)))
        .order_by(Certificate.issued_at.desc())
        .limit(MOST_OF_A_KIND)
        .options(joinedload(Certificate.job).joinedload(Job.customer))
    )
    for found in db.scalars(query):
        key = f"{found.number}/{found.revision}"
        detail = f"{found.job.customer.name}, job {found.job.number}"
        yield Hit("certificate", found.title, detail, key)


def _jobs(db: Session, text: str) -> Iterator[Hit]:
    found = {past.job: past for past in lookup.past_jobs(db, text, MOST_OF_A_KIND)}
    for past in found.values():
        about = f"{past.customer}, {past.engine_type}, {past.state}"
        yield Hit("job", past.job, f"{about}; found by {past.why}", past.job)


def _heads(db: Session, text: str) -> Iterator[Hit]:
    query = (
        select(Head)
        .where(
            or_(
                Head.notes.ilike(contains(text), escape="\\"),
                *numbers_like(text, Head.casting_number, Head.serial),
            )
        )
        .order_by(Head.id.desc())
        .limit(MOST_OF_A_KIND)
        .options(joinedload(Head.engine_type))
    )
    for head in db.scalars(query):
        yield Hit("head", head.identity, head.engine_type.title, str(head.id))


def _customers(db: Session, text: str) -> Iterator[Hit]:
    for customer in customers.everyone(db, text)[:MOST_OF_A_KIND]:
        yield Hit("customer", customer.name, customer.phone or customer.email, str(customer.id))


def _engine_types(db: Session, text: str) -> Iterator[Hit]:
    for found in engines.look_up(db, text)[:MOST_OF_A_KIND]:
        aliases = ", ".join(alias.name for alias in found.aliases)
        yield Hit("engine type", found.title, aliases, str(found.id))
