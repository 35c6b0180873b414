"""One box over everything: papers, jobs, heads, customers, engine types, messages."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from typing import Any

from sqlalchemy import ColumnElement, false, or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.models import (
    Certificate,
    Contact,
    Customer,
    Head,
    Hold,
    Invoice,
    Job,
    OutgoingMail,
    Quote,
    Visit,
)
from shopflow.services.registry import customers, engine_types
from shopflow.services.registry.customers import contains
from shopflow.services.search import past_jobs
from shopflow.services.search.parsed_query import FEWEST_LETTERS, customers_called, numbers_like
from shopflow.texts import gettext

MOST_OF_A_KIND = 12


@dataclass(frozen=True)
class Hit:
    """One thing found: its key, and its kind as "certificate", "job" or "engine type".

    The key of a certificate or quote is "number/revision", of what waits its head's tag.
    """

    kind: str
    title: str
    detail: str
    key: str


def everything(db: Session, text: str) -> list[Hit]:
    """Records that a text may mean, the most particular kinds first; none for an empty text."""
    text = text.replace("\x00", "").strip()
    if not text:
        return []
    hits = dict.fromkeys(
        [
            *_certificates(db, text),
            *_quotes(db, text),
            *_invoices(db, text),
            *_jobs(db, text),
            *_heads(db, text),
            *_waits(db, text),
            *_customers(db, text),
            *_engine_types(db, text),
            *_messages(db, text),
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
    for certificate in db.scalars(query):
        key = f"{certificate.number}/{certificate.revision}"
        detail = gettext(
            "{customer}, job {number}",
            customer=certificate.job.customer.name,
            number=certificate.job.number,
        )
        yield Hit("certificate", certificate.title, detail, key)


def _quotes(db: Session, text: str) -> Iterator[Hit]:
    # Neither the papers' bytes nor what they were made from is read. Outer joins, since SQLite
    # would go through all customers, or all stays, before the few rows that are looked through.
    query = (
        select(Quote.number, Quote.revision, Customer.name, Job.number)
        .outerjoin(Quote.job)
        .outerjoin(Job.customer)
        .where(or_(false(), *numbers_like(text, Quote.number)))
        .order_by(Quote.given_at.desc(), Quote.id.desc())
        .limit(MOST_OF_A_KIND)
    )
    for number, revision, customer, job in db.execute(query):
        title = (
            number
            if revision == 1
            else gettext("{number} revision {revision}", number=number, revision=revision)
        )
        detail = gettext("{customer}, job {number}", customer=customer, number=job)
        yield Hit("quote", title, detail, f"{number}/{revision}")


def _invoices(db: Session, text: str) -> Iterator[Hit]:
    query = (
        select(Invoice.number, Invoice.kind, Customer.name, Job.number)
        .outerjoin(Invoice.job)
        .outerjoin(Job.customer)
        .where(or_(false(), *numbers_like(text, Invoice.number)))
        .order_by(Invoice.issued_at.desc(), Invoice.id.desc())
        .limit(MOST_OF_A_KIND)
    )
    for number, kind, customer, job in db.execute(query):
        detail = gettext(
            "{kind}, {customer}, job {number}", kind=kind, customer=customer, number=job
        )
        yield Hit("invoice", number, detail, number)


def _jobs(db: Session, text: str) -> Iterator[Hit]:
    by_number = {past.job: past for past in past_jobs.past_jobs(db, text, MOST_OF_A_KIND)}
    for past in by_number.values():
        about = f"{past.customer}, {past.engine_type}, {past.state}"
        detail = gettext("{job}; found by {reason}", job=about, reason=past.why)
        yield Hit("job", past.job, detail, past.job)


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


def _waits(db: Session, text: str) -> Iterator[Hit]:
    query = (
        select(Visit.tag, Hold.wait_for, Hold.what)
        .outerjoin(Hold.job_head)
        .where(Hold.ended_at.is_(None), _holds(text, Hold.what))
        .order_by(Hold.since)
        .limit(MOST_OF_A_KIND)
    )
    for tag, wait_for, reason in db.execute(query):
        detail = gettext("for {wait_for}: {reason}", wait_for=wait_for, reason=reason)
        yield Hit("wait", tag, detail, tag)


def _customers(db: Session, text: str) -> Iterator[Hit]:
    hits = [(customer, "") for customer in customers.list_all(db, text)[:MOST_OF_A_KIND]]
    seen_ids = {customer.id for customer, _ in hits}
    query = (
        select(Customer, Contact.name)
        .outerjoin(Customer.contacts)
        .where(
            Customer.id.in_(customers_called(db, text))
            | _holds(text, Customer.notes, Customer.address, Contact.name, Contact.email)
            | or_(false(), *numbers_like(text, Customer.phone, Contact.phone))
        )
        .order_by(Customer.name, Customer.id, Contact.id)
        .limit(MOST_OF_A_KIND)
    )
    for customer, contact in db.execute(query):
        if customer.id not in seen_ids:
            seen_ids.add(customer.id)
            hits.append((customer, contact or ""))
    for customer, contact in hits[:MOST_OF_A_KIND]:
        about = (contact, customer.phone or customer.email)
        detail = ", ".join(part for part in about if part)
        yield Hit("customer", customer.name, detail, str(customer.id))


def _messages(db: Session, text: str) -> Iterator[Hit]:
    mail = OutgoingMail
    query = (
        select(mail.id, mail.subject, mail.to_address, mail.state)
        .where(_holds(text, mail.subject, mail.to_address, mail.to_name, mail.body))
        .order_by(mail.queued_at.desc(), mail.id.desc())
        .limit(MOST_OF_A_KIND)
    )
    for key, subject, to_address, state in db.execute(query):
        detail = gettext("to {address}, {state}", address=to_address, state=state)
        yield Hit("message", subject, detail, str(key))


def _holds(text: str, *columns: Any) -> ColumnElement[bool]:
    """Condition that one of these columns holds the text, capitals ignored."""
    if len(text) < FEWEST_LETTERS:
        return false()
    return or_(*(column.ilike(contains(text), escape="\\") for column in columns))


def _engine_types(db: Session, text: str) -> Iterator[Hit]:
    for engine_type in engine_types.look_up(db, text)[:MOST_OF_A_KIND]:
        aliases = ", ".join(alias.name for alias in engine_type.aliases)
        yield Hit("engine type", engine_type.title, aliases, str(engine_type.id))
