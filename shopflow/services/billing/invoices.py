"""Invoices and credit notes: numbered without a gap, issued once, never changed.

A number is taken in the transaction that issues the paper and goes back with it where that fails;
the counter's row stays locked until then, so two at once wait for each other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Collection, Sequence
from dataclasses import dataclass
from datetime import timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.invoice import Received
from shopflow.documents.snapshot import to_plain
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import (
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    Operation,
    OperationState,
    Payment,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals, balances, payments, pricing
from shopflow.services.billing.balances import Balance
from shopflow.services.jobs.jobs import must_not_be_practice
from shopflow.services.numbering import next_number
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext

PREVIEW_NUMBER = "–"
SERIES = {InvoiceKind.INVOICE: "INV", InvoiceKind.CREDIT_NOTE: "CN"}


def get(db: Session, number: str) -> Invoice:
    """The invoice or credit note with this number. Raises NotFoundError."""
    invoice = db.scalars(select(Invoice).where(Invoice.number == number)).one_or_none()
    if invoice is None:
        raise NotFoundError(gettext("there is no invoice {number}", number=number))
    return invoice


def of_job(db: Session, job: Job) -> list[Invoice]:
    """A job's invoices and credit notes, in the order of issue."""
    query = select(Invoice).where(Invoice.job_id == job.id)
    return list(db.scalars(query.order_by(Invoice.issued_at, Invoice.id)))


def standing(db: Session, job: Job) -> list[Invoice]:
    """A job's invoices that credit notes do not credit in full."""
    return [
        item
        for item in of_job(db, job)
        if item.kind is InvoiceKind.INVOICE and not item.is_taken_back
    ]


def ready(balance: Balance) -> list[Operation]:
    """The steps an invoice starts with: done, approved and on no invoice yet."""
    return [step for step in balance.to_invoice if step.state is OperationState.DONE]


@dataclass(frozen=True)
class Unprinted:
    """An invoice or credit note that has its number, to be printed and kept in one transaction."""

    job: Job
    kind: InvoiceKind
    content: InvoicePaper
    lines: tuple[InvoiceLine, ...]
    credits: Invoice | None = None
    """The invoice that a credit note is for."""


def prepare(db: Session, by: Actor, job: Job, chosen: Collection[int] | None = None) -> Unprinted:
    """An invoice for the steps chosen by their keys, or for all that is `ready`.

    Raises RuleError where there is nothing to invoice, a step is not approved, or nobody signs.
    """
    must_not_be_practice(job)
    lock(db, job)
    steps = selected(balances.of_job(db, job), job, chosen)
    content = _content(db, by, job, steps)
    lines = tuple(
        InvoiceLine(operation_id=step.id, position=position, price=step.charge)
        for position, step in enumerate(steps, start=1)
    )
    return Unprinted(job, InvoiceKind.INVOICE, content, lines)


def preview(
    db: Session, by: Actor, job: Job, chosen: Collection[int] | None = None
) -> InvoicePaper:
    """The invoice these steps would give, marked as a preview; it takes no number.

    Raises RuleError as `issue`.
    """
    steps = selected(balances.of_job(db, job), job, chosen)
    return _content(db, by, job, steps, is_preview=True)


def selected(balance: Balance, job: Job, chosen: Collection[int] | None) -> list[Operation]:
    """The steps to invoice. Raises RuleError where one is not approved, or none is left."""
    if chosen is None:
        steps = ready(balance)
    else:
        refused = [step.kind.name for step in balance.not_approved if step.id in chosen]
        if refused:
            raise RuleError(
                gettext("not approved by the customer: {refused}", refused=", ".join(refused))
            )
        steps = [step for step in balance.to_invoice if step.id in chosen]
        if len(steps) < len(set(chosen)):
            raise RuleError(
                gettext("a chosen step was invoiced or dropped meanwhile: check the steps again")
            )
    if not steps:
        raise RuleError(_nothing(balance, job))
    return steps


def _nothing(balance: Balance, job: Job) -> str:
    """Reason why nothing can be invoiced."""
    if balance.to_invoice:
        return gettext("no step chosen: choose at least one to invoice")
    if balance.not_approved:
        return gettext("the customer has not approved this work: record the approval first")
    return gettext("nothing of job {number} is left to invoice", number=job.number)


def lock(db: Session, job: Job) -> None:
    """Let nobody else invoice this job until we are done (SQLite has one writer anyhow)."""
    db.execute(select(Job.id).where(Job.id == job.id).with_for_update())


def _content(
    db: Session, by: Actor, job: Job, steps: Sequence[Operation], *, is_preview: bool = False
) -> InvoicePaper:
    style = the_style(db)
    tax = pricing.tax(db, job, steps)
    with spoken_for(db, job.customer):
        received = _received(db, job)
        return InvoicePaper(
            shop=facts.letterhead(db),
            display=facts.display(db, job.customer),
            kind=gettext("Invoice"),
            number=PREVIEW_NUMBER if is_preview else next_paper(db, by, InvoiceKind.INVOICE),
            issued_at=by.at,
            issued_by=signer(by),
            customer=facts.party(job),
            job=facts.job_facts(db, job),
            heads=facts.heads_in_words(job),
            lines=tuple(pricing.line(step) for step in steps),
            tax=tax,
            due_on=by.at.astimezone(zone(get_shop(db))).date() + timedelta(days=style.payment_days),
            received=received,
            balance=tax.total - sum((item.amount for item in received), Decimal(0)),
            payment_terms=style.payment_terms,
            payment_to=style.payment_to,
            tax_number=style.tax_number,
            declined=tuple(
                f"{step.job_head.tag}: {step.kind.name}" for step in approvals.declined(job)
            ),
            preview=is_preview,
        )


def _received(db: Session, job: Job) -> tuple[Received, ...]:
    """Payments received before; after an earlier invoice, only the excess over it, as one sum."""
    display = facts.display(db, job.customer)
    earlier = sum((item.balance for item in standing(db, job)), Decimal(0))
    rows = payments.of_job(db, job)
    if earlier:
        beyond = sum((row.amount for row in rows), Decimal(0)) - earlier
        return (Received(gettext("Paid beyond earlier invoices"), beyond),) if beyond > 0 else ()
    return tuple(Received(_method(row, display.day(row.received_on)), row.amount) for row in rows)


def _method(row: Payment, day: str) -> str:
    """Method and day of a payment, in words."""
    if row.is_deposit:
        return gettext("Deposit, {method}, {day}", method=row.method, day=day)
    return gettext("{method}, {day}", method=row.method, day=day)


def next_paper(db: Session, by: Actor, kind: InvoiceKind) -> str:
    """The next number of a kind of paper, taken in this transaction."""
    year = by.at.astimezone(zone(get_shop(db))).year
    return f"{SERIES[kind]}-{year}-{next_number(db, kind.value, year):04d}"


def signer(by: Actor) -> str:
    """Name of the user who issues a document. Raises RuleError without one."""
    if by.person is None:
        raise RuleError(gettext("an invoice is issued by a person"))
    return by.person.name


def keep(db: Session, by: Actor, unprinted: Unprinted, pdf: bytes) -> Invoice:
    """Put an invoice or credit note on record with its PDF, frozen."""
    content, credits = unprinted.content, unprinted.credits
    row = Invoice(
        kind=unprinted.kind,
        number=content.number,
        job=unprinted.job,
        credits_id=credits.id if credits else None,
        reason=content.reason,
        issued_at=by.at,
        issued_by_id=by.person_id,
        due_on=content.due_on,
        tax=content.tax.tax,
        total=content.tax.total,
        snapshot=to_plain(content),
        pdf=pdf,
        sha256=hashlib.sha256(pdf).hexdigest(),
        lines=list(unprinted.lines),
    )
    db.add(row)
    audit_log.record(db, by, row, "issued", job=unprinted.job, note=row.number)
    if credits is not None:
        db.expire(credits, ["credit_notes"])
    return row
