"""Unpaid invoices by age: what each customer owes, and since when.

A job's payments settle its oldest invoice first, so that the open amounts of a job's invoices add
up to its balance.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal

from sqlalchemy import case, func, select
from sqlalchemy.orm import Session, contains_eager, selectinload

from shopflow.models import PAID, Customer, Invoice, InvoiceKind, Job, LedgerEntry
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import lazy

AGES = (
    (0, lazy("Not due yet")),
    (30, lazy("1 to 30 days overdue")),
    (60, lazy("31 to 60 days overdue")),
    (90, lazy("61 to 90 days overdue")),
    (None, lazy("More than 90 days overdue")),
)
"""Most days overdue of each group, and its name."""


@dataclass(frozen=True)
class OpenInvoice:
    """An invoice that is not paid in full."""

    invoice: Invoice
    """With its job and customer."""

    issued_on: date
    due_on: date
    open: Decimal
    """Left of it after credit notes and payments, with tax."""

    days_overdue: int
    """Below 0 before it is due."""

    @property
    def age(self) -> int:
        """Index of its group among AGES."""
        limits = [most for most, _ in AGES[:-1]]
        return next(
            (index for index, most in enumerate(limits) if self.days_overdue <= (most or 0)),
            len(limits),
        )

    @property
    def customer(self) -> Customer:
        """The customer who owes it."""
        return self.invoice.job.customer


@dataclass(frozen=True)
class Debtor:
    """A customer's unpaid invoices, the oldest due first."""

    customer: Customer
    invoices: tuple[OpenInvoice, ...]

    @property
    def open(self) -> Decimal:
        """All that is left of them."""
        return _sum(row.open for row in self.invoices)

    @property
    def most_overdue(self) -> int:
        """Days overdue of the oldest."""
        return max(row.days_overdue for row in self.invoices)


@dataclass(frozen=True)
class Receivables:
    """Everything that customers owe on a day, those with the oldest debt first."""

    on: date
    debtors: tuple[Debtor, ...]

    @property
    def invoices(self) -> list[OpenInvoice]:
        """Every unpaid invoice, by customer."""
        return [row for debtor in self.debtors for row in debtor.invoices]

    @property
    def open(self) -> Decimal:
        """The whole."""
        return _sum(debtor.open for debtor in self.debtors)

    @property
    def by_age(self) -> list[tuple[str, Decimal, int]]:
        """Each group's name, its amount and its number of invoices."""
        return by_age(self.invoices)


def by_age(invoices: Sequence[OpenInvoice]) -> list[tuple[str, Decimal, int]]:
    """Each group's name, its amount and its number of invoices."""
    rows = []
    for index, (_, name) in enumerate(AGES):
        of_age = [row.open for row in invoices if row.age == index]
        rows.append((str(name), _sum(of_age), len(of_age)))
    return rows


def on_day(db: Session, today: date, customer: Customer | None = None) -> Receivables:
    """The unpaid invoices of every customer, or of one: three statements."""
    owing = _owing(db, customer)
    debts: defaultdict[int, list[OpenInvoice]] = defaultdict(list)
    for row in _open_invoices(db, owing, today):
        debts[row.customer.id].append(row)
    debtors = [
        Debtor(rows[0].customer, tuple(sorted(rows, key=lambda row: (row.due_on, row.invoice.id))))
        for rows in debts.values()
    ]
    debtors.sort(key=lambda debtor: (-debtor.most_overdue, debtor.customer.name))
    return Receivables(today, tuple(debtors))


def _owing(db: Session, customer: Customer | None) -> dict[int, Decimal]:
    """Amount paid on each job whose invoices exceed its credit notes and payments."""
    paid = case((LedgerEntry.kind.in_(PAID), -LedgerEntry.amount), else_=Decimal(0))
    query = (
        select(LedgerEntry.job_id, func.sum(paid))
        .group_by(LedgerEntry.job_id)
        .having(func.sum(LedgerEntry.amount) > Decimal(0))
    )
    if customer is not None:
        of_customer = select(Job.id).where(Job.customer_id == customer.id)
        query = query.where(LedgerEntry.job_id.in_(of_customer))
    return dict(db.execute(query).all())


def _open_invoices(db: Session, paid: dict[int, Decimal], today: date) -> Iterator[OpenInvoice]:
    """The unpaid invoices of these jobs, after what was paid on each."""
    hours = zone(get_shop(db))
    by_job: defaultdict[int, list[Invoice]] = defaultdict(list)
    for invoice in _invoices(db, paid.keys()):
        by_job[invoice.job_id].append(invoice)
    for job, invoices in by_job.items():
        left = paid[job]
        for invoice in invoices:
            settled = min(invoice.balance, left)
            left -= settled
            owed = invoice.balance - settled
            if owed > 0:
                issued_on = invoice.issued_at.astimezone(hours).date()
                due_on = invoice.due_on or issued_on
                yield OpenInvoice(invoice, issued_on, due_on, owed, (today - due_on).days)


def _invoices(db: Session, jobs: Collection[int]) -> Sequence[Invoice]:
    """Invoices of these jobs, the oldest first, with their credit notes, jobs and customers."""
    query = (
        select(Invoice)
        .join(Invoice.job)
        .join(Job.customer)
        .where(Invoice.kind == InvoiceKind.INVOICE, Invoice.job_id.in_(sorted(jobs)))
        .order_by(Invoice.issued_at, Invoice.id)
        .options(
            contains_eager(Invoice.job).contains_eager(Job.customer),
            selectinload(Invoice.credit_notes),
        )
    )
    return db.scalars(query).all()


def _sum(amounts: Iterable[Decimal]) -> Decimal:
    return sum(amounts, Decimal(0))
