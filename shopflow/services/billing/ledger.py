"""The ledger: an entry for each invoice, credit note and payment, in the transaction it is made in.

Balances are sums over it. Entries are numbered without a gap: the number's row stays locked until
the commit, so that two writers at once follow each other.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.documents.money import Tax, TaxPart
from shopflow.models import (
    AccountRole,
    Customer,
    EntryKind,
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    JobLine,
    LedgerEntry,
    LineKind,
    Payment,
    Posting,
)
from shopflow.services.numbering import next_number
from shopflow.services.shop.settings import get_shop, zone

SERIES = "ledger"
WORK = "work"
"""Detail of sales of steps; of lines their kind."""


def post_invoice(db: Session, invoice: Invoice, tax: Tax) -> LedgerEntry:
    """Post an invoice or credit note that was just issued, with its tax."""
    sign = -1 if invoice.kind is InvoiceKind.CREDIT_NOTE else 1
    sales = _sales(invoice.lines, _kinds(db, invoice.lines))
    postings = [
        Posting(role=AccountRole.RECEIVABLE, detail="", amount=sign * invoice.total),
        *(
            Posting(role=role, detail=detail, amount=-sign * amount)
            for (role, detail), amount in sales.items()
        ),
        *(_tax(part, sign) for part in tax.by_rate),
    ]
    day = invoice.issued_at.astimezone(zone(get_shop(db))).date()
    return _post(
        db,
        LedgerEntry(
            kind=EntryKind(invoice.kind.value), job=invoice.job, invoice=invoice, on=day,
            at=invoice.issued_at, amount=sign * invoice.total, postings=postings,
        ),
    )  # fmt: skip


def post_payment(db: Session, payment: Payment) -> LedgerEntry:
    """Post a payment, deposit or refund that was just recorded."""
    postings = [
        Posting(
            role=AccountRole.MONEY, detail=payment.method.strip().lower(), amount=payment.amount
        ),
        Posting(role=AccountRole.RECEIVABLE, detail="", amount=-payment.amount),
    ]
    return _post(
        db,
        LedgerEntry(
            kind=kind_of(payment), job=payment.job, payment=payment, on=payment.received_on,
            at=payment.recorded_at, amount=-payment.amount, postings=postings,
        ),
    )  # fmt: skip


def kind_of(payment: Payment) -> EntryKind:
    """Kind of a payment's entry."""
    if payment.amount < 0:
        return EntryKind.REFUND
    return EntryKind.DEPOSIT if payment.is_deposit else EntryKind.PAYMENT


def of_customer(db: Session, customer: Customer) -> list[LedgerEntry]:
    """Entries of a customer by day, invoices before the payments of a day."""
    query = (
        select(LedgerEntry)
        .join(LedgerEntry.job)
        .where(Job.customer_id == customer.id)
        .order_by(LedgerEntry.on, LedgerEntry.invoice_id.is_(None), LedgerEntry.number)
    )
    return list(db.scalars(query))


def balance_of_customer(db: Session, customer: Customer) -> Decimal:
    """Amount a customer owes over all jobs; below zero in the customer's favor."""
    query = (
        select(func.sum(LedgerEntry.amount))
        .join(LedgerEntry.job)
        .where(Job.customer_id == customer.id)
    )
    return db.scalar(query) or Decimal("0.00")


def _post(db: Session, entry: LedgerEntry) -> LedgerEntry:
    for position, posting in enumerate(entry.postings, start=1):
        posting.position = position
    assert not sum((posting.amount for posting in entry.postings), Decimal(0))
    entry.number = next_number(db, SERIES, 0)
    db.add(entry)
    db.flush()
    return entry


def _kinds(db: Session, lines: Iterable[InvoiceLine]) -> dict[int, LineKind]:
    keys = [line.job_line_id for line in lines if line.job_line_id is not None]
    query = select(JobLine.id, JobLine.kind).where(JobLine.id.in_(keys))
    return dict(db.execute(query).all()) if keys else {}


def _sales(
    lines: Iterable[InvoiceLine], kinds: Mapping[int, LineKind]
) -> dict[tuple[AccountRole, str], Decimal]:
    """Amounts before tax by what was sold; a deposit invoiced is no sale yet."""
    sales: dict[tuple[AccountRole, str], Decimal] = {}
    for line in lines:
        kind = None if line.job_line_id is None else kinds[line.job_line_id]
        is_deposit = kind is LineKind.DEPOSIT
        role = AccountRole.PREPAID if is_deposit else AccountRole.SALES
        key = (role, "" if is_deposit else WORK if kind is None else kind.value)
        sales[key] = sales.get(key, Decimal(0)) + line.price
    return {key: amount for key, amount in sales.items() if amount}


def _tax(part: TaxPart, sign: int) -> Posting:
    return Posting(
        role=AccountRole.TAX,
        detail=f"{part.code} {part.rate_percent:f}",
        amount=-sign * part.tax,
        tax_code=part.code,
        tax_rate=part.rate_percent,
        tax_base=-sign * part.net,
    )
