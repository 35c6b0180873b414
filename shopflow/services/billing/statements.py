"""The statement of a customer's account: every invoice, credit note and payment, in order."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import datetime
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow import documents
from shopflow.documents.statement import OpenItem, Statement, StatementEntry
from shopflow.models import Customer, EntryKind, LedgerEntry
from shopflow.services.billing import ledger, receivables
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext


def statement(db: Session, customer: Customer, at: datetime) -> Statement:
    """A customer's account as it stands."""
    today = at.astimezone(zone(get_shop(db))).date()
    with spoken_for(db, customer):
        entries = tuple(_entries(db, customer))
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


def _entries(db: Session, customer: Customer) -> Iterator[StatementEntry]:
    balance = Decimal(0)
    for entry in ledger.of_customer(db, customer):
        balance += entry.amount
        yield StatementEntry(entry.on, _words(entry), entry.job.number, entry.amount, balance)


def _words(entry: LedgerEntry) -> str:
    """An entry as the customer reads it."""
    if entry.invoice is not None:
        number = entry.invoice.number
        if entry.kind is EntryKind.CREDIT_NOTE:
            return gettext("Credit note {number}", number=number)
        return gettext("Invoice {number}", number=number)
    method = entry.payment.method if entry.payment else ""
    if entry.kind is EntryKind.REFUND:
        return gettext("Refund, {method}", method=method)
    if entry.kind is EntryKind.DEPOSIT:
        return gettext("Deposit, {method}", method=method)
    return gettext("Payment, {method}", method=method)
