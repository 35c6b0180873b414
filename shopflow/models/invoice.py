"""Invoices and credit notes: issued once, numbered without a gap, never changed."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Connection,
    Date,
    ForeignKey,
    LargeBinary,
    String,
    event,
)
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Amount, Base, Id, Moment, Words, choice
from shopflow.models.document_line import DocumentLine, of_one
from shopflow.texts import gettext, gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class InvoiceKind(StrEnum):
    """Invoice or credit note."""

    INVOICE = gettext_noop("invoice")
    CREDIT_NOTE = gettext_noop("credit note")


class Invoice(Base):
    """An issued invoice, or a credit note that takes one back, whole or in part."""

    __tablename__ = "invoice"
    __table_args__ = (
        CheckConstraint("(kind = 'credit note') = (credits_id IS NOT NULL)", name="credits_one"),
        CheckConstraint("kind = 'invoice' OR reason <> ''", name="credit_has_reason"),
        CheckConstraint("tax >= 0 AND total >= tax", name="amounts_not_negative"),
    )

    id: Mapped[Id]
    kind: Mapped[InvoiceKind] = mapped_column(choice(InvoiceKind))
    number: Mapped[str] = mapped_column(String(20), unique=True)
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    credits_id: Mapped[int | None] = mapped_column(ForeignKey("invoice.id"), index=True)
    reason: Mapped[Words]
    """Reason why a credit note credits an invoice."""

    issued_at: Mapped[Moment]
    issued_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    due_on: Mapped[date | None] = mapped_column(Date)
    tax: Mapped[Amount]
    total: Mapped[Amount]
    """With tax; a credit note's is the amount credited, and not below zero either."""

    snapshot: Mapped[dict[str, Any]] = mapped_column(JSON)
    pdf: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
    sha256: Mapped[str] = mapped_column(String(64))

    job: Mapped[Job] = relationship()
    issued_by: Mapped[User] = relationship()
    credits: Mapped[Invoice | None] = relationship(
        remote_side="Invoice.id", back_populates="credit_notes"
    )
    credit_notes: Mapped[list[Invoice]] = relationship(
        back_populates="credits", order_by="Invoice.id"
    )
    lines: Mapped[list[InvoiceLine]] = relationship(
        cascade="save-update, merge", order_by="InvoiceLine.position", passive_deletes="all"
    )

    @property
    def credited(self) -> Decimal:
        """Total of its credit notes, with tax."""
        return sum((note.total for note in self.credit_notes), Decimal(0))

    @property
    def balance(self) -> Decimal:
        """Balance after its credit notes, with tax."""
        return self.total - self.credited

    @property
    def is_deposit(self) -> bool:
        """True where it asks for a deposit ahead of the work, as its data say."""
        return bool(self.snapshot.get("is_deposit"))

    @property
    def is_taken_back(self) -> bool:
        """True where credit notes cover the whole invoice."""
        return bool(self.credit_notes) and not self.balance


class InvoiceLine(DocumentLine, Base):
    """A step or line charged for, at the price charged; a credit note's, at what it credits."""

    __tablename__ = "invoice_line"
    __table_args__ = of_one("invoice")

    invoice_id: Mapped[int] = mapped_column(ForeignKey("invoice.id"), primary_key=True)


@event.listens_for(Invoice, "before_update")
@event.listens_for(Invoice, "before_delete")
@event.listens_for(InvoiceLine, "before_update")
@event.listens_for(InvoiceLine, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(gettext("an issued invoice cannot be changed or deleted; issue a credit note"))
