"""The statement of a customer's account: every invoice, credit note and payment, in order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date, datetime
from decimal import Decimal
from zoneinfo import ZoneInfo

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.statement import OpenItem, Statement, StatementEntry
from shopflow.models import Customer, Invoice, InvoiceKind, Job, Payment
from shopflow.services.billing import receivables
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

Item = tuple[date, int, str, str, Decimal]
"""Date, order within it, words, job and amount."""


def statement(db: Session, customer: Customer, at: datetime) -> Statement:
    """A customer's account as it stands."""
    hours = zone(get_shop(db))
    today = at.astimezone(hours).date()
    with spoken_for(db, customer):
        entries = tuple(_entries(db, customer, hours))
        owed = receivables.on_day(db, today, customer)
        return Statement(
            shop=facts.letterhead(db),
            display=facts.display(db, customer),
            customer=documents.Party(
                customer.name, customer.address, customer.phone, customer.email
            ),
            entries=entries,
            open_items=tuple(
                OpenItem(
                    row.invoice.number,
                    row.invoice.job.number,
                    row.due_on,
                    row.open,
                    row.days_overdue,
                )
                for row in owed.invoices
            ),
            ages=tuple((name, amount) for name, amount, _ in owed.by_age if amount),
            balance=entries[-1].balance if entries else Decimal(0),
            payment_to=the_style(db).payment_to,
            made_at=at,
        )


def _entries(db: Session, customer: Customer, hours: ZoneInfo) -> Iterator[StatementEntry]:
    items = [*_issued(db, customer, hours), *_paid(db, customer)]
    balance = Decimal(0)
    for on, _, what, job, amount in sorted(items, key=lambda item: item[:2]):
        balance += amount
        yield StatementEntry(on, what, job, amount, balance)


def _issued(db: Session, customer: Customer, hours: ZoneInfo) -> Iterator[Item]:
    query = (
        select(
            Invoice.kind, Invoice.number, Invoice.issued_at, Invoice.total, Job.number, Invoice.id
        )
        .join(Invoice.job)
        .where(Job.customer_id == customer.id)
    )
    for kind, number, issued_at, total, job, key in db.execute(query):
        day = issued_at.astimezone(hours).date()
        if kind is InvoiceKind.INVOICE:
            yield day, key, gettext("Invoice {number}", number=number), job, total
        else:
            yield day, key, gettext("Credit note {number}", number=number), job, -total


def _paid(db: Session, customer: Customer) -> Iterator[Item]:
    query = (
        select(Payment.received_on, Payment.amount, Payment.method, Payment.is_deposit, Job.number,
               Payment.id)
        .join(Payment.job)
        .where(Job.customer_id == customer.id)
    )  # fmt: skip
    for on, amount, method, is_deposit, job, key in db.execute(query):
        if amount < 0:
            words = gettext("Refund, {method}", method=method)
        elif is_deposit:
            words = gettext("Deposit, {method}", method=method)
        else:
            words = gettext("Payment, {method}", method=method)
        # After the invoices of its day.
        yield on, _AFTER_INVOICES + key, words, job, -amount


_AFTER_INVOICES = 1 << 40
