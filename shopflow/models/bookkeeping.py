"""The shop's own accounts and columns for its bookkeeping, and reminders of overdue invoices."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Name, Versioned, Words

if TYPE_CHECKING:
    from shopflow.models.invoice import Invoice
    from shopflow.models.mail import OutgoingMail
    from shopflow.models.person import User


class LedgerAccount(Versioned, Base):
    """The shop's number and name of an account of the ledger."""

    __tablename__ = "ledger_account"

    id: Mapped[Id]
    key: Mapped[str] = mapped_column(String(250), unique=True)
    """As `Posting.account`."""

    code: Mapped[Line]
    name: Mapped[Line]


class Bookkeeping(Versioned, Base):
    """One row: the columns of the file for bookkeeping."""

    __tablename__ = "bookkeeping"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[int] = mapped_column(primary_key=True, default=1)
    columns: Mapped[list[list[str]]] = mapped_column(JSON)
    """Field and heading of each, in order."""


class ReminderStage(Versioned, Base):
    """A stage of reminding: from so many days overdue, with these words."""

    __tablename__ = "reminder_stage"
    __table_args__ = (
        CheckConstraint("days_overdue > 0", name="overdue"),
        CheckConstraint("subject <> ''", name="has_subject"),
    )

    id: Mapped[Id]
    days_overdue: Mapped[int] = mapped_column(unique=True)
    subject: Mapped[Name]
    body: Mapped[Words]


class Reminder(Base):
    """An invoice that its customer was reminded of."""

    __tablename__ = "reminder"

    id: Mapped[Id]
    invoice_id: Mapped[int] = mapped_column(ForeignKey("invoice.id"), index=True)
    days_overdue: Mapped[int]
    """Of the stage."""

    mail_id: Mapped[int] = mapped_column(ForeignKey("outgoing_mail.id"), index=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    invoice: Mapped[Invoice] = relationship()
    mail: Mapped[OutgoingMail] = relationship()
    person: Mapped[User | None] = relationship()
