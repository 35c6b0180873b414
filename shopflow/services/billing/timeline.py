"""A job's money as one timeline: quotes, approvals, payments, invoices, credit notes in order."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from datetime import datetime
from decimal import Decimal
from enum import StrEnum

from sqlalchemy.orm import Session

from shopflow.models import Approval, Invoice, InvoiceKind, Job, Payment, Quote
from shopflow.services.billing import approvals, invoices, payments, quotes


class Entry(StrEnum):
    """Kind of an event on a job's money."""

    QUOTE = "quote"
    APPROVAL = "approval"
    PAYMENT = "payment"
    INVOICE = "invoice"
    CREDIT_NOTE = "credit note"


@dataclass(frozen=True, slots=True)
class MoneyEvent:
    """One event, and the balance after it."""

    entry: Entry
    at: datetime
    row: Quote | Approval | Payment | Invoice
    amount: Decimal
    """With tax; below zero for a credit note and for money paid back."""

    balance: Decimal | None
    """Invoices less credit notes and payments up to here; none where it does not change."""

    is_replaced: bool = False
    """True of a quote that a later revision replaced."""


def of_job(db: Session, job: Job) -> list[MoneyEvent]:
    """Every event on a job's money, the first one first."""
    events = sorted(
        (
            *_quoted(quotes.of_job(db, job)),
            *((Entry.APPROVAL, row.at, row, row.total, False) for row in approvals.of_job(db, job)),
            *(
                (Entry.PAYMENT, row.recorded_at, row, row.amount, False)
                for row in payments.of_job(db, job)
            ),
            *map(_invoiced, invoices.of_job(db, job)),
        ),
        key=lambda event: event[1],
    )
    balance = Decimal(0)
    timeline = []
    for entry, at, row, amount, is_replaced in events:
        changes = entry in (Entry.PAYMENT, Entry.INVOICE, Entry.CREDIT_NOTE)
        if changes:
            balance += -amount if entry is Entry.PAYMENT else amount
        after = balance if changes else None
        timeline.append(MoneyEvent(entry, at, row, amount, after, is_replaced))
    return timeline


_Event = tuple[Entry, datetime, Quote | Approval | Payment | Invoice, Decimal, bool]


def _quoted(rows: Sequence[Quote]) -> Iterator[_Event]:
    for row in rows:
        is_replaced = row is not rows[-1] and row.approved_at is None
        yield Entry.QUOTE, row.given_at, row, row.total, is_replaced


def _invoiced(row: Invoice) -> _Event:
    if row.kind is InvoiceKind.CREDIT_NOTE:
        return Entry.CREDIT_NOTE, row.issued_at, row, -row.total, False
    return Entry.INVOICE, row.issued_at, row, row.total, False
