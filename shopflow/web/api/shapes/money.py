"""Quotes, invoices, payments and balances."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime
from decimal import Decimal

from shopflow import models
from shopflow.models.document_line import DocumentLine
from shopflow.services.billing import balances
from shopflow.services.billing.balances import Balance
from shopflow.web.db import db


@dataclass(frozen=True)
class Money:
    """Amounts invoiced, paid and open on a job, with tax, in the shop's currency."""

    invoiced: Decimal
    credited: Decimal
    received: Decimal
    balance: Decimal
    approved_not_invoiced: Decimal
    not_approved: Decimal
    left_to_pay: Decimal

    @classmethod
    def of(cls, balance: Balance) -> Money:
        """The balance every page shows."""
        return cls(
            invoiced=balance.invoiced,
            credited=balance.credited,
            received=balance.received,
            balance=balance.balance,
            approved_not_invoiced=balance.approved.total,
            not_approved=balance.unapproved.total,
            left_to_pay=balance.left,
        )


@dataclass(frozen=True)
class ChargedLine:
    """A step or a line of a job on a document, at its price before tax."""

    operation_id: int | None
    line_id: int | None
    price: Decimal

    @classmethod
    def of(cls, row: DocumentLine) -> ChargedLine:
        """A line of a quote or an invoice."""
        return cls(row.operation_id, row.job_line_id, row.price)


@dataclass(frozen=True)
class Quote:
    """A revision of a job's quote as it was given; amounts in the shop's currency."""

    id: int
    number: str
    revision: int
    job: str
    given_at: datetime
    valid_until: date
    deposit: Decimal
    total: Decimal
    approved_at: datetime | None
    approved_by: str
    lines: list[ChargedLine]

    @classmethod
    def of(cls, row: models.Quote) -> Quote:
        """A quote on record."""
        return cls(
            id=row.id,
            number=row.number,
            revision=row.revision,
            job=row.job.number,
            given_at=row.given_at,
            valid_until=row.valid_until,
            deposit=row.deposit,
            total=row.total,
            approved_at=row.approved_at,
            approved_by=row.approved_by,
            lines=[ChargedLine.of(line) for line in row.lines],
        )


@dataclass(frozen=True)
class Invoice:
    """An invoice, or a credit note that takes one back; amounts with tax."""

    id: int
    number: str
    kind: models.InvoiceKind
    credits: str | None
    """Number of the invoice that a credit note takes back."""

    job: str
    issued_at: datetime
    due_on: date | None
    tax: Decimal
    total: Decimal
    lines: list[ChargedLine]

    @classmethod
    def of(cls, row: models.Invoice) -> Invoice:
        """An invoice on record."""
        return cls(
            id=row.id,
            number=row.number,
            kind=row.kind,
            credits=row.credits.number if row.credits else None,
            job=row.job.number,
            issued_at=row.issued_at,
            due_on=row.due_on,
            tax=row.tax,
            total=row.total,
            lines=[ChargedLine.of(line) for line in row.lines],
        )


@dataclass(frozen=True)
class Payment:
    """Money received on a job; below zero where it was paid back."""

    id: int
    job: str
    received_on: date
    amount: Decimal
    method: str
    note: str
    is_deposit: bool

    @classmethod
    def of(cls, row: models.Payment) -> Payment:
        """A payment on record."""
        return cls(
            id=row.id,
            job=row.job.number,
            received_on=row.received_on,
            amount=row.amount,
            method=row.method,
            note=row.note,
            is_deposit=row.is_deposit,
        )


@dataclass(frozen=True)
class JobBalance:
    """A job and where its money stands."""

    id: int
    job: str
    customer_id: int
    money: Money

    @classmethod
    def of(cls, row: models.Job) -> JobBalance:
        """The balance of a job."""
        return cls(row.id, row.number, row.customer_id, Money.of(balances.of_job(db(), row)))


@dataclass(frozen=True)
class LedgerPosting:
    """An amount on an account: debit, or below zero credit. Of tax with its code and base."""

    account: str
    amount: Decimal
    tax_code: str | None
    tax_base: Decimal | None

    @classmethod
    def of(cls, row: models.Posting) -> LedgerPosting:
        """A posting on record."""
        return cls(row.account, row.amount, row.tax_code, row.tax_base)


@dataclass(frozen=True)
class LedgerEntry:
    """An invoice, credit note, deposit, payment or refund in the ledger; numbered without a gap.

    Its postings add up to nothing; `amount` is added to what the customer owes.
    """

    id: int
    number: int
    kind: models.EntryKind
    job: str
    invoice: str | None
    payment_id: int | None
    booked_on: date
    amount: Decimal
    postings: list[LedgerPosting]

    @classmethod
    def of(cls, row: models.LedgerEntry) -> LedgerEntry:
        """An entry on record."""
        return cls(
            id=row.id,
            number=row.number,
            kind=row.kind,
            job=row.job.number,
            invoice=row.invoice.number if row.invoice else None,
            payment_id=row.payment_id,
            booked_on=row.on,
            amount=row.amount,
            postings=[LedgerPosting.of(item) for item in row.postings],
        )
