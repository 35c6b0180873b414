"""Deposits invoiced ahead of the work: what is open of each, and what an invoice settles of it."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import bindparam, select
from sqlalchemy.orm import Session

from shopflow.calc.totals import Category
from shopflow.models import (
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    JobLine,
    LineKind,
    TaxClass,
)
from shopflow.services.billing import taxes
from shopflow.services.billing.pricing import Charge
from shopflow.services.shop.settings import get_shop

_LINES = (
    select(InvoiceLine.job_line_id, InvoiceLine.price, Invoice.kind, Invoice)
    .join(Invoice, Invoice.id == InvoiceLine.invoice_id)
    .join(JobLine, JobLine.id == InvoiceLine.job_line_id)
    .where(Invoice.job_id == bindparam("job_id"), JobLine.kind == LineKind.DEPOSIT)
    .order_by(Invoice.id)
)


@dataclass(frozen=True)
class Deposit:
    """A deposit invoiced, and what of it no later invoice has settled."""

    line: JobLine
    invoice: Invoice
    open: Decimal
    """Before tax: invoiced, less credit notes and what later invoices took off."""


def of_job(db: Session, job: Job) -> list[Deposit]:
    """The deposits invoiced on a job, in order."""
    lines: dict[int | None, JobLine] = {
        line.id: line for line in job.lines if line.kind is LineKind.DEPOSIT
    }
    if not lines:
        return []
    first: dict[int | None, Invoice] = {}
    left: dict[int | None, Decimal] = {}
    for key, price, kind, invoice in db.execute(_LINES, {"job_id": job.id}):
        first.setdefault(key, invoice)
        sign = -1 if kind is InvoiceKind.CREDIT_NOTE else 1
        left[key] = left.get(key, Decimal(0)) + sign * price
    return [Deposit(lines[key], invoice, left[key]) for key, invoice in first.items()]


def settled(
    db: Session, job: Job, charges: Sequence[Charge], before: Sequence[Charge] = ()
) -> list[Charge]:
    """Charges below zero that take the deposits off these: each up to the sum of its category of
    tax. `before` are such charges on other lines, which leave less of a deposit.
    """
    deposits = of_job(db, job)
    sums = _by_category(db, job, charges) if deposits else {}
    taken = {charge.row.key: -charge.amount for charge in before}
    rows = []
    for deposit in deposits:
        line = deposit.line
        category = taxes.category(get_shop(db), job.customer, line.tax_class)
        left = deposit.open - taken.get(line.key, Decimal(0))
        amount = min(left, sums.get(category, Decimal(0)))
        if amount > 0:
            sums[category] -= amount
            share = (line.tax_class, -amount)
            rows.append(Charge(line, -amount, (share,), settles=deposit.invoice.number))
    return rows


def most(db: Session, job: Job, charges: Sequence[Charge], tax_class: TaxClass) -> Decimal:
    """The most that a deposit in a class of tax can be, before tax: these charges of its category,
    less the deposits that are open."""
    category = taxes.category(get_shop(db), job.customer, tax_class)
    rows = [*charges, *settled(db, job, charges)]
    return max(_by_category(db, job, rows).get(category, Decimal(0)), Decimal(0))


def _by_category(db: Session, job: Job, charges: Sequence[Charge]) -> dict[Category, Decimal]:
    sums: dict[Category, Decimal] = {}
    for charge in charges:
        for tax_class, amount in charge.shares:
            category = taxes.category(get_shop(db), job.customer, tax_class)
            sums[category] = sums.get(category, Decimal(0)) + amount
    return sums
