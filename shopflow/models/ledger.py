"""The ledger: every invoice, credit note, deposit, payment and refund once, never changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    BigInteger,
    CheckConstraint,
    Connection,
    Date,
    ForeignKey,
    String,
    event,
)
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Amount, Base, DecimalText, Id, Line, Moment, Price, choice
from shopflow.texts import gettext, gettext_noop

if TYPE_CHECKING:
    from shopflow.models.invoice import Invoice
    from shopflow.models.job import Job
    from shopflow.models.payment import Payment


class EntryKind(StrEnum):
    """Kind of an entry."""

    INVOICE = gettext_noop("invoice")
    CREDIT_NOTE = gettext_noop("credit note")
    DEPOSIT = gettext_noop("deposit")
    PAYMENT = gettext_noop("payment")
    REFUND = gettext_noop("refund")


INVOICED = (EntryKind.INVOICE, EntryKind.CREDIT_NOTE)
PAID = (EntryKind.DEPOSIT, EntryKind.PAYMENT, EntryKind.REFUND)


class AccountRole(StrEnum):
    """Role of the account that a posting is on."""

    RECEIVABLE = gettext_noop("receivables")
    SALES = gettext_noop("sales")
    PREPAID = gettext_noop("deposits invoiced")
    TAX = gettext_noop("tax")
    MONEY = gettext_noop("money received")


class LedgerEntry(Base):
    """One change of what a customer owes; its postings add up to nothing."""

    __tablename__ = "ledger_entry"
    __table_args__ = (
        CheckConstraint("number > 0", name="numbered"),
        CheckConstraint("(invoice_id IS NULL) <> (payment_id IS NULL)", name="of_one"),
        CheckConstraint(
            "(kind IN ('invoice', 'credit note')) = (invoice_id IS NOT NULL)", name="of_kind"
        ),
        CheckConstraint(
            "(kind IN ('invoice', 'refund') AND amount >= 0)"
            " OR (kind NOT IN ('invoice', 'refund') AND amount <= 0)",
            name="sign_of_kind",
        ),
    )

    id: Mapped[Id]
    number: Mapped[int] = mapped_column(BigInteger, unique=True)
    """From 1, without a gap, in the order they were recorded."""

    kind: Mapped[EntryKind] = mapped_column(choice(EntryKind))
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    invoice_id: Mapped[int | None] = mapped_column(ForeignKey("invoice.id"), unique=True)
    payment_id: Mapped[int | None] = mapped_column(ForeignKey("payment.id"), unique=True)
    on: Mapped[date] = mapped_column("booked_on", Date, index=True)
    """Day of the invoice, or on which the money came."""

    at: Mapped[Moment] = mapped_column()
    amount: Mapped[Amount]
    """Added to what the customer owes; below zero for what lowers it."""

    job: Mapped[Job] = relationship()
    invoice: Mapped[Invoice | None] = relationship()
    payment: Mapped[Payment | None] = relationship()
    postings: Mapped[list[Posting]] = relationship(
        cascade="save-update, merge", order_by="Posting.position", passive_deletes="all"
    )


class Posting(Base):
    """An entry's amount on one account."""

    __tablename__ = "ledger_posting"
    __table_args__ = (
        CheckConstraint("(role = 'tax') = (tax_code IS NOT NULL)", name="tax_has_code"),
        CheckConstraint("(tax_code IS NULL) = (tax_base IS NULL)", name="tax_has_base"),
        CheckConstraint("(tax_code IS NULL) = (tax_rate IS NULL)", name="tax_has_rate"),
    )

    entry_id: Mapped[int] = mapped_column(ForeignKey("ledger_entry.id"), primary_key=True)
    position: Mapped[int] = mapped_column(primary_key=True, autoincrement=False)
    role: Mapped[AccountRole] = mapped_column(choice(AccountRole))
    detail: Mapped[Line]
    """Of sales the kind of the lines, of money how it was paid, of tax its code and rate."""

    amount: Mapped[Amount]
    """Debit; below zero for credit."""

    tax_code: Mapped[str | None] = mapped_column(String(3))
    """S at a rate, Z at the zero rate, E exempt (UNCL 5305)."""

    tax_rate: Mapped[Decimal | None] = mapped_column(DecimalText)
    """In per cent."""

    tax_base: Mapped[Price]
    """Amount taxed, with the sign of the tax."""

    @property
    def account(self) -> str:
        """Key of its account, as "sales: work"."""
        return f"{self.role}: {self.detail}" if self.detail else str(self.role)


@event.listens_for(LedgerEntry, "before_update")
@event.listens_for(LedgerEntry, "before_delete")
@event.listens_for(Posting, "before_update")
@event.listens_for(Posting, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(gettext("the ledger cannot be changed or deleted; record a reversal"))
