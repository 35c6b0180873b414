"""Payments on a job, and where its money stands."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.models import Invoice, InvoiceKind, Job, Payment
from shopflow.papers.money import Tax
from shopflow.services import charges, events, fields
from shopflow.services.actor import Actor
from shopflow.services.shop import settled, zone

_OF_JOB = (
    select(Payment)
    .where(Payment.job_id == bindparam("job_id"))
    .order_by(Payment.received_on, Payment.id)
)
_INVOICED = select(Invoice.kind, Invoice.total).where(Invoice.job_id == bindparam("job_id"))


def _not_nothing(value: Any) -> Decimal:
    found = fields.decimal(places=2, least=None)(value)
    if not found:
        raise ValueError("an amount, below zero where it is paid back")
    return Decimal(found)


def _day(value: Any) -> date:
    found = fields.day()(value)
    if found is None:
        raise ValueError("fill this in")
    return found  # type: ignore[no-any-return]


SPECIFICATION: fields.Specification = {
    "received_on": _day,
    "amount": _not_nothing,
    "method": fields.text(required=True),
    "note": fields.text(),
}


@dataclass(frozen=True)
class Account:
    """Where a job's money stands; amounts with tax."""

    charges: Tax
    """All the work that is charged for, invoiced or not."""

    invoiced: Decimal
    """Invoices less credit notes."""

    received: Decimal
    """The deposit taken at the counter and every payment."""

    @property
    def open(self) -> Decimal:
        """What is invoiced and not paid; below zero where more was paid."""
        return self.invoiced - self.received

    @property
    def left(self) -> Decimal:
        """What the customer still has to pay in the end, as the work stands now."""
        return self.charges.total - self.received


def record(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Payment:
    """Write down money that came in, or was paid back. Raises FaultsError.

    A payment is never changed: a mistake is taken back by one of the opposite amount.
    """
    today = by.at.astimezone(zone(settled(db))).date()
    given = {"received_on": today, **values}
    clean = fields.require(SPECIFICATION, given, "amount", "method")
    payment = Payment(job=job, recorded_at=by.at, recorded_by_id=by.person_id, **clean)
    db.add(payment)
    events.record(db, by, payment, "received", job=job, note=f"{payment.amount} {payment.method}")
    return payment


def of_job(db: Session, job: Job) -> list[Payment]:
    """A job's payments in the order they came in."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def account(db: Session, job: Job) -> Account:
    """Where the job's money stands."""
    papers = db.execute(_INVOICED, {"job_id": job.id})
    signed = (total if kind is InvoiceKind.INVOICE else -total for kind, total in papers)
    return Account(
        charges=charges.tax(db, job, charges.charged(job)),
        invoiced=sum(signed, Decimal(0)),
        received=job.deposit + sum((item.amount for item in of_job(db, job)), Decimal(0)),
    )
