"""One balance of a job, which every page, document, message and export reads.

balance = invoices - credit notes - payments, summed over the ledger. Work on no invoice yet is
split: what the customer has approved is still to be invoiced; what is not approved is not owed.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, aliased

from shopflow.documents.money import Tax
from shopflow.models import (
    PAID,
    EntryKind,
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    LedgerEntry,
)
from shopflow.services.billing import approvals, deposits, pricing
from shopflow.services.billing.pricing import Charged

_LEDGER = (
    select(LedgerEntry.kind, func.sum(LedgerEntry.amount))
    .where(LedgerEntry.job_id == bindparam("job_id"))
    .group_by(LedgerEntry.kind)
)
_NOTE = aliased(Invoice)
_CREDITED = (
    select(func.coalesce(func.sum(_NOTE.total), Decimal(0)))
    .where(_NOTE.credits_id == Invoice.id)
    .correlate(Invoice)
    .scalar_subquery()
)
_HAS_NOTE = select(_NOTE.id).where(_NOTE.credits_id == Invoice.id).correlate(Invoice).exists()
_INVOICED = (
    select(InvoiceLine.operation_id, InvoiceLine.job_line_id)
    .join(Invoice, Invoice.id == InvoiceLine.invoice_id)
    .where(Invoice.kind == InvoiceKind.INVOICE)
    .where(~_HAS_NOTE | (Invoice.total > _CREDITED))
)
INVOICED_STEPS = _INVOICED.with_only_columns(InvoiceLine.operation_id).where(
    InvoiceLine.operation_id.is_not(None)
)
"""Keys of the steps on invoices that stand."""

INVOICED_LINES = _INVOICED.with_only_columns(InvoiceLine.job_line_id).where(
    InvoiceLine.job_line_id.is_not(None)
)
"""Keys of the lines on invoices that stand."""

_INVOICED_ON_JOB = _INVOICED.where(Invoice.job_id == bindparam("job_id"))


@dataclass(frozen=True)
class Balance:
    """Amounts invoiced, paid and open on a job, with tax."""

    invoiced: Decimal
    credited: Decimal
    received: Decimal
    """Payments and deposits, less what was paid back."""

    approved: Tax
    """Approved work and lines that are on no invoice yet, less the deposits they settle."""

    unapproved: Tax
    """Priced work and lines that the customer has not approved."""

    to_invoice: tuple[Charged, ...]
    """The approved steps and lines that are on no invoice yet."""

    not_approved: tuple[Charged, ...]
    """The steps and lines, priced or not, that the customer has not approved."""

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
    def not_priced(self) -> list[Charged]:
        """Steps and lines that have no price yet."""
        return [
            row for row in self.not_approved
            if row.charge is None and not pricing.is_per_cent(row)
        ]  # fmt: skip

    @property
    def has_work(self) -> bool:
        """True where anything was ever invoiced or has a price."""
        return bool(self.invoiced or self.approved.net or self.unapproved.net)


def of_job(db: Session, job: Job) -> Balance:
    """Balance of a job."""
    booked = dict(db.execute(_LEDGER, {"job_id": job.id}).all())
    rows = not_invoiced(db, job)
    approved = approvals.approved_prices(db, job)
    shares = [row for row in rows if pricing.is_per_cent(row)]
    single = [row for row in rows if not pricing.is_per_cent(row)]
    ready = [row for row in single if approvals.is_approved(row, approved)]
    rest = [row for row in single if row not in ready]
    if job.approved_at is None:
        rest = [row for row in rows if row not in ready]
    else:
        ready = pricing.with_discounts(ready, shares)
    charges = pricing.charges(ready)
    settled = deposits.settled(db, job, charges)
    others = pricing.charges(pricing.with_discounts(rest, shares))
    left = deposits.settled(db, job, others, settled)
    return Balance(
        invoiced=booked.get(EntryKind.INVOICE, Decimal(0)),
        credited=-booked.get(EntryKind.CREDIT_NOTE, Decimal(0)),
        received=-_sum(booked.get(kind, Decimal(0)) for kind in PAID),
        approved=pricing.tax_of(db, job, (*charges, *settled)),
        unapproved=pricing.tax_of(db, job, (*others, *left)),
        to_invoice=tuple(ready),
        not_approved=tuple(rest),
    )


def not_invoiced(db: Session, job: Job) -> list[Charged]:
    """Charges on no invoice that stands; a discount in per cent is on each."""
    invoiced = {
        f"line-{line}" if step is None else str(step)
        for step, line in db.execute(_INVOICED_ON_JOB, {"job_id": job.id})
    }
    return [
        row for row in pricing.charged(job)
        if row.key not in invoiced or pricing.is_per_cent(row)
    ]  # fmt: skip


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
