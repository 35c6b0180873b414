"""Reminders of overdue invoices by stage: written as a draft, and sent by a person alone."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Customer, Invoice, OutgoingMail, Reminder, ReminderStage
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing.receivables import Debtor, OpenInvoice
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.texts import gettext, lazy

SPECIFICATION: fields.Specification = {
    "days_overdue": fields.count(least=1, required=True),
    "subject": fields.text(required=True),
    "body": fields.words(),
}
USUAL = (
    (7, lazy("Friendly reminder"), lazy("Perhaps this was overlooked. Please pay in the next "
                                        "days, or tell us if something is not right.")),
    (21, lazy("Second reminder"), lazy("We have received no payment yet. Please pay within a "
                                       "week.")),
    (42, lazy("Last reminder"), lazy("Please pay within a week, or call us today.")),
)  # fmt: skip
"""Stages a shop can start with."""


@dataclass(frozen=True, slots=True)
class Due:
    """A stage that some of a customer's invoices have reached, and were not reminded of yet."""

    stage: ReminderStage
    invoices: tuple[OpenInvoice, ...]


def get(db: Session, stage_id: int) -> ReminderStage:
    """The stage with this key. Raises NotFoundError."""
    row = db.get(ReminderStage, stage_id)
    if row is None:
        raise NotFoundError(gettext("this reminder does not exist"))
    return row


def stages(db: Session) -> list[ReminderStage]:
    """The stages, the first one first."""
    return list(db.scalars(select(ReminderStage).order_by(ReminderStage.days_overdue)))


def add_usual(db: Session, by: Actor) -> list[ReminderStage]:
    """Add three stages to start with, to a shop that has none."""
    if stages(db):
        return []
    return [
        add(db, by, {"days_overdue": days, "subject": str(subject), "body": str(body)})
        for days, subject, body in USUAL
    ]


def add(db: Session, by: Actor, values: Mapping[str, Any]) -> ReminderStage:
    """Add a stage. Raises ValidationError."""
    clean = fields.require(SPECIFICATION, values, "days_overdue", "subject")
    _must_be_free(db, clean["days_overdue"])
    row = ReminderStage(**clean)
    db.add(row)
    audit_log.record(db, by, row, "added", note=f"{row.days_overdue}: {row.subject}")
    return row


def change(db: Session, by: Actor, row: ReminderStage, values: Mapping[str, Any]) -> ReminderStage:
    """Change a stage. Raises ValidationError."""
    clean = fields.read(SPECIFICATION, values)
    if clean.get("days_overdue", row.days_overdue) != row.days_overdue:
        _must_be_free(db, clean["days_overdue"])
    audit_log.change(db, by, row, clean)
    return row


def remove(db: Session, by: Actor, row: ReminderStage) -> None:
    """Remove a stage; reminders that were sent stay on record."""
    audit_log.record(db, by, row, "removed", note=f"{row.days_overdue}: {row.subject}")
    db.delete(row)


def due(db: Session, debtors: Sequence[Debtor]) -> dict[int, Due]:
    """The latest stage that each customer's invoices have reached, by the customer's key."""
    rows = stages(db)
    invoices = [row.invoice.id for debtor in debtors for row in debtor.invoices]
    if not rows or not invoices:
        return {}
    query = (
        select(Reminder.invoice_id, func.max(Reminder.days_overdue))
        .where(Reminder.invoice_id.in_(invoices))
        .group_by(Reminder.invoice_id)
    )
    reminded = dict(db.execute(query).all())
    dues = {debtor.customer.id: _due(rows, reminded, debtor) for debtor in debtors}
    return {key: each for key, each in dues.items() if each is not None}


def _due(rows: Sequence[ReminderStage], reminded: Mapping[int, int], debtor: Debtor) -> Due | None:
    reached: dict[int, ReminderStage] = {}
    for item in debtor.invoices:
        past = [row for row in rows if row.days_overdue <= item.days_overdue]
        if past and past[-1].days_overdue > reminded.get(item.invoice.id, 0):
            reached[item.invoice.id] = past[-1]
    if not reached:
        return None
    stage = max(reached.values(), key=lambda row: row.days_overdue)
    return Due(stage, tuple(row for row in debtor.invoices if row.invoice.id in reached))


def words(db: Session, customer: Customer, reminder: Due, signed: str) -> tuple[str, str]:
    """Subject and body of a draft: the stage's words with the overdue invoices."""
    display = facts.display(db, customer)
    with spoken_for(db, customer):
        listed = "\n".join(
            gettext(
                "Invoice {number}, due {day}: {amount}",
                number=row.invoice.number,
                day=display.day(row.due_on),
                amount=display.money(row.open),
            )
            for row in reminder.invoices
        )
        greeting = gettext("Hello {customer},", customer=customer.name)
    parts = (greeting, listed, reminder.stage.body, signed)
    return reminder.stage.subject, "\n\n".join(filter(None, parts))


def note_sent(db: Session, by: Actor, reminder: Due, mail: OutgoingMail) -> list[Reminder]:
    """Note that a customer was reminded of these invoices by a message."""
    db.flush()
    rows = [
        Reminder(invoice=row.invoice, days_overdue=reminder.stage.days_overdue, mail=mail,
                 at=by.at, person_id=by.person_id)
        for row in reminder.invoices
    ]  # fmt: skip
    db.add_all(rows)
    for row in rows:
        note = f"{row.invoice.number}: {reminder.stage.subject}"
        audit_log.record(db, by, row, "queued", job=row.invoice.job, note=note)
    return rows


def of_invoice(db: Session, invoice: Invoice) -> list[Reminder]:
    """Reminders of an invoice, in order."""
    query = select(Reminder).where(Reminder.invoice_id == invoice.id).order_by(Reminder.id)
    return list(db.scalars(query))


def _must_be_free(db: Session, days: int) -> None:
    taken = db.scalar(select(ReminderStage.id).where(ReminderStage.days_overdue == days))
    if taken is not None:
        message = gettext("there is a reminder at {days} days already", days=days)
        raise ValidationError([FieldError("days_overdue", message)])
