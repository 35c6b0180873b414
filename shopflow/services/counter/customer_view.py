"""Contents of a customer's private page on a job: nothing else goes to that page."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.documents import FlowCertificate, SessionResult, Tested
from shopflow.documents.snapshot import from_plain
from shopflow.models import Certificate, Invoice, Job, JobFile, JobState, OperationState, Visit
from shopflow.models.customer_link import HIDDEN
from shopflow.services.billing import approvals, balances, invoices, pricing, quotes
from shopflow.services.billing.balances import Balance
from shopflow.services.billing.pricing import Charge
from shopflow.services.counter import inspection_reports
from shopflow.services.paperwork import facts
from shopflow.services.registry import attachments
from shopflow.services.routing import work_orders
from shopflow.texts import lazy

STANDS: dict[JobState, Any] = {
    JobState.BOOKED_IN: lazy("Booked in. Your parts are here. We will inspect them next."),
    JobState.QUOTED: lazy("Quoted. We are waiting for your approval before we start."),
    JobState.APPROVED: lazy("Approved. Work will start soon."),
    JobState.IN_WORK: lazy("In progress."),
    JobState.READY: lazy("Ready. It can be collected or shipped."),
    JobState.COLLECTED: lazy("Collected."),
    JobState.SHIPPED: lazy("Shipped."),
    JobState.CANCELLED: lazy("Cancelled."),
    JobState.DEVELOPMENT: lazy("The shop’s own tests."),
}


@dataclass(frozen=True, slots=True)
class HeadView:
    """A head on the job, and how much of its work is done."""

    engine_type: str
    identity: str
    tag: str
    steps: int
    done: int
    declined: tuple[str, ...]
    """Names of the steps the customer declined."""


@dataclass(frozen=True, slots=True)
class CertificateView:
    """An issued certificate, and the sessions whose curves are shown, as it froze them."""

    row: Certificate
    head: str
    sessions: tuple[SessionResult, ...]


@dataclass(frozen=True, slots=True)
class CustomerView:
    """A job as its customer sees it."""

    number: str
    customer: str
    stands: str
    is_open: bool
    promised_on: date | None
    heads: tuple[HeadView, ...]
    certificates: tuple[CertificateView, ...]
    photos: tuple[JobFile, ...]
    documents: tuple[JobFile, ...]
    balance: Balance | None
    """Balance of the job, where the link shows it."""

    charges: tuple[tuple[str, list[Charge], Decimal], ...]
    """Charges by head, the whole job last, each with its sum before tax; where the link
    shows prices."""

    invoices: tuple[Invoice, ...]
    """Invoices and credit notes as issued, where the link shows prices."""

    declined: tuple[str, ...]
    """Lines beside the steps that the customer declined."""

    has_inspection: bool
    """True where the inspection report is shown: once a quote was sent, whose companion it is."""

    tested: tuple[tuple[str, tuple[Tested, ...]], ...] = ()
    """Leak and crack tests that the inspection report has, by the label of their head."""


def of(
    db: Session, job: Job, *, shows_prices: bool, held_back: Mapping[str, str] | None = None
) -> CustomerView:
    """A job as its customer sees it; `held_back` is a link's."""
    hidden = held_back or {}
    files = [row for row in attachments.of_job(db, job) if row.shown_to_customer]
    inspected = bool(quotes.of_job(db, job)) and inspection_reports.has_findings(db, job)
    return CustomerView(
        number=job.number,
        customer=job.customer.name,
        stands=str(STANDS[job.state]),
        is_open=job.is_open,
        promised_on=job.promised_on,
        heads=tuple(_head(visit) for visit in job.heads),
        certificates=tuple(
            _certificate(row, with_curve=row.number not in hidden)
            for row in certificates(job, hidden)
        ),
        photos=tuple(row for row in files if row.is_photo),
        documents=tuple(row for row in files if not row.is_photo),
        balance=balances.of_job(db, job) if shows_prices else None,
        charges=tuple(_charges(db, job)) if shows_prices else (),
        invoices=tuple(invoices.of_job(db, job)) if shows_prices else (),
        declined=tuple(line.title for line in job.lines if line.is_declined),
        has_inspection=inspected,
        tested=tuple(_tested(db, job)) if inspected else (),
    )


def _charges(db: Session, job: Job) -> list[tuple[str, list[Charge], Decimal]]:
    """Charges by head, of those the customer approved or was offered last."""
    told = set(approvals.approved_prices(db, job))
    told |= {line.key for sent in quotes.of_job(db, job)[-1:] for line in sent.lines}
    rows = [row for row in pricing.charged(job) if row.key in told]
    return pricing.by_head(job, pricing.charges(rows))


def certificates(job: Job, held_back: Mapping[str, str] | None = None) -> list[Certificate]:
    """The newest revision of each certificate of a job, but those a link hides."""
    newest = {row.number: row for row in sorted(job.certificates, key=lambda row: row.revision)}
    hidden = held_back or {}
    return [row for number, row in newest.items() if hidden.get(number) != HIDDEN]


def _tested(db: Session, job: Job) -> Iterator[tuple[str, tuple[Tested, ...]]]:
    display = facts.display(db, job.customer)
    for visit in job.heads:
        rows = inspection_reports.tested_on_arrival(visit)
        if rows:
            yield visit.tag, tuple(work_orders.tested(row, display) for row in rows)


def _head(visit: Visit) -> HeadView:
    counted = [step for step in visit.operations if step.counts]
    return HeadView(
        engine_type=visit.head.engine_type.title,
        identity=visit.head.identity,
        tag=visit.tag,
        steps=len(counted),
        done=sum(step.state is OperationState.DONE for step in counted),
        declined=tuple(step.kind.name for step in visit.operations if step.is_declined),
    )


def _certificate(row: Certificate, *, with_curve: bool) -> CertificateView:
    frozen = from_plain(FlowCertificate, row.snapshot)
    sessions = frozen.sessions if with_curve else ()
    return CertificateView(row, f"{frozen.head.engine_type}, {frozen.head.tag}", sessions)
