"""One balance of a job, which every page, document, message and export reads.

balance = invoices - credit notes - payments. Work on no invoice yet is split: what
the customer has approved is still to be invoiced; what is not approved is not owed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, aliased

from shopflow.documents.money import Tax
from shopflow.models import Invoice, InvoiceKind, InvoiceLine, Job, Operation, Payment
from shopflow.services.billing import approvals, pricing

_PAPERS = select(Invoice.kind, Invoice.total).where(Invoice.job_id == bindparam("job_id"))
_RECEIVED = select(func.sum(Payment.amount)).where(Payment.job_id == bindparam("job_id"))
_NOTE = aliased(Invoice)
_CREDITED = (
    select(func.coalesce(func.sum(_NOTE.total), Decimal(0)))
    .where(_NOTE.credits_id == Invoice.id)
    .correlate(Invoice)
    .scalar_subquery()
)
_HAS_NOTE = select(_NOTE.id).where(_NOTE.credits_id == Invoice.id).correlate(Invoice).exists()
INVOICED_STEPS = (
    select(InvoiceLine.operation_id)
    .join(Invoice, Invoice.id == InvoiceLine.invoice_id)
    .where(Invoice.kind == InvoiceKind.INVOICE)
    .where(~_HAS_NOTE | (Invoice.total > _CREDITED))
)
"""Keys of the steps on invoices that stand."""

_INVOICED_STEPS = INVOICED_STEPS.where(Invoice.job_id == bindparam("job_id"))


@dataclass(frozen=True)
class Balance:
    """Amounts invoiced, paid and open on a job, with tax."""

    invoiced: Decimal
    credited: Decimal
    received: Decimal
    """Payments and deposits, less what was paid back."""

    approved: Tax
    """Approved work that is on no invoice yet."""

    unapproved: Tax
    """Priced work that the customer has not approved."""

    to_invoice: tuple[Operation, ...]
    """The approved steps that are on no invoice yet."""

    not_approved: tuple[Operation, ...]
    """The steps, priced or not, that the customer has not approved."""

    @property
    def balance(self) -> Decimal:
        """Invoices less credit notes and payments; below zero in the customer's favor."""
        return self.invoiced - self.credited - self.received

    @property
    def left(self) -> Decimal:
        """Left to pay once all approved work is invoiced."""
        return self.balance + self.approved.total

    @property
    def expected(self) -> Decimal:
        """Left to pay if the customer approves the rest too."""
        return self.left + self.unapproved.total

    @property
    def not_priced(self) -> list[Operation]:
        """Steps that have no price yet."""
        return [step for step in self.not_approved if step.charge is None]

    @property
    def has_work(self) -> bool:
        """True where anything was ever invoiced or has a price."""
        return bool(self.invoiced or self.approved.net or self.unapproved.net)


def of_job(db: Session, job: Job) -> Balance:
    """Balance of a job."""
    papers = [(kind, total) for kind, total in db.execute(_PAPERS, {"job_id": job.id})]
    steps = not_invoiced(db, job)
    approved = approvals.approved_prices(db, job)
    ready = tuple(step for step in steps if approvals.is_approved(step, approved))
    rest = tuple(step for step in steps if step not in ready)
    return Balance(
        invoiced=_sum(total for kind, total in papers if kind is InvoiceKind.INVOICE),
        credited=_sum(total for kind, total in papers if kind is InvoiceKind.CREDIT_NOTE),
        received=db.scalar(_RECEIVED, {"job_id": job.id}) or Decimal(0),
        approved=pricing.tax(db, job, ready),
        unapproved=pricing.tax(db, job, rest),
        to_invoice=ready,
        not_approved=rest,
    )


def not_invoiced(db: Session, job: Job) -> list[Operation]:
    """The operations that are charged for and are on no invoice that stands."""
    invoiced = set(db.scalars(_INVOICED_STEPS, {"job_id": job.id}))
    return [step for step in pricing.charged(job) if step.id not in invoiced]


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
