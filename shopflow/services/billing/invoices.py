"""Invoices and credit notes: numbered without a gap, issued once, never changed.

A number is taken in the transaction that issues the paper and goes back with it where that fails;
the counter's row stays locked until then, so two at once wait for each other.
"""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, timedelta
from decimal import Decimal

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.invoice import Received
from shopflow.documents.money import Tax
from shopflow.documents.snapshot import to_plain
from shopflow.errors import NotFoundError, RuleError
from shopflow.models import (
    Invoice,
    InvoiceKind,
    InvoiceLine,
    Job,
    Operation,
    Payment,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    approvals,
    balances,
    deposits,
    e_invoices,
    ledger,
    payments,
    pricing,
)
from shopflow.services.billing.approvals import Keys
from shopflow.services.billing.balances import Balance
from shopflow.services.billing.pricing import Charge, Charged
from shopflow.services.jobs.jobs import must_not_be_practice
from shopflow.services.numbering import next_number
from shopflow.services.paperwork import facts
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext, gettext_noop, translated

PREVIEW_NUMBER = "–"
INVOICE, DEPOSIT_INVOICE = gettext_noop("Invoice"), gettext_noop("Deposit invoice")
"""Headings."""

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


def ready(balance: Balance) -> list[Charged]:
    """Charges an invoice starts with, approved and on none yet: the steps done, and the lines where
    nothing is left to do on their head, or on any where they are the job's."""
    rows = balance.to_invoice
    chosen = [row for row in rows if _is_ready(row)]
    if not any(isinstance(row, Operation) or row.is_charge for row in chosen):
        return []
    return chosen


def _is_ready(row: Charged) -> bool:
    if isinstance(row, Operation):
        return row.is_done
    visits = row.job.heads if row.job_head is None else [row.job_head]
    return not any(step.is_open for visit in visits for step in visit.operations)


@dataclass(frozen=True)
class Unprinted:
    """An invoice or credit note that has its number, to be printed and kept in one transaction."""

    job: Job
    kind: InvoiceKind
    content: InvoicePaper
    lines: tuple[InvoiceLine, ...]
    credits: Invoice | None = None
    """The invoice that a credit note is for."""


def prepare(db: Session, by: Actor, job: Job, chosen: Keys | None = None) -> Unprinted:
    """An invoice for the steps and lines chosen by their keys, or for all that is `ready`.

    Raises RuleError where there is nothing to invoice, something is not approved, or nobody signs.
    """
    must_not_be_practice(job)
    lock(db, job)
    return unprinted(db, by, job, _charges(db, job, chosen))


def unprinted(
    db: Session, by: Actor, job: Job, charges: Sequence[Charge], kind: str = INVOICE
) -> Unprinted:
    """An invoice of these charges with its number, under this heading."""
    content = _content(db, by, job, charges, kind=kind)
    lines = tuple(
        InvoiceLine(**pricing.reference(charge.row), position=position, price=charge.amount)
        for position, charge in enumerate(charges, start=1)
    )
    return Unprinted(job, InvoiceKind.INVOICE, content, lines)


def _charges(db: Session, job: Job, chosen: Keys | None) -> list[Charge]:
    """Charges chosen, less the deposits that they settle."""
    charges = pricing.charges(selected(balances.of_job(db, job), job, chosen))
    return [*charges, *deposits.settled(db, job, charges)]


def preview(db: Session, by: Actor, job: Job, chosen: Keys | None = None) -> InvoicePaper:
    """The invoice these steps and lines would give, marked as a preview; it takes no number.

    Raises RuleError as `issue`.
    """
    return _content(db, by, job, _charges(db, job, chosen), is_preview=True)


def selected(balance: Balance, job: Job, chosen: Keys | None) -> list[Charged]:
    """Charges to invoice, with the discounts in per cent that are taken of it.

    Raises RuleError where something is not approved, or nothing is left.
    """
    if chosen is None:
        rows = ready(balance)
    else:
        keys = set(map(str, chosen))
        refused = [row.title for row in balance.not_approved if row.key in keys]
        if refused:
            raise RuleError(
                gettext("not approved by the customer: {refused}", refused=", ".join(refused))
            )
        rows = [row for row in balance.to_invoice if row.key in keys]
        if len(rows) < len(keys):
            raise RuleError(
                gettext("a chosen line was invoiced or dropped meanwhile: check the lines again")
            )
    if not any(isinstance(row, Operation) or row.is_charge for row in rows):
        raise RuleError(_nothing(balance, job))
    with_shares = pricing.with_discounts(rows, balance.to_invoice)
    return [row for row in balance.to_invoice if row in with_shares]


def offered(db: Session, job: Job, balance: Balance, chosen: Keys) -> tuple[list[Charge], Tax]:
    """Charges that can be invoiced, with the deposits settled, and the tax on those chosen.

    A discount in per cent is priced by what is chosen.
    """
    keys = set(map(str, chosen))
    rows = [row for row in balance.to_invoice if row.key in keys]
    shares = pricing.with_discounts(rows, balance.to_invoice)
    priced = {charge.row.key: charge for charge in pricing.charges(shares)}
    settled = deposits.settled(db, job, list(priced.values()))
    rest = {charge.row.key: charge for charge in pricing.charges(balance.to_invoice)}
    return (
        [*(priced.get(row.key, rest[row.key]) for row in balance.to_invoice), *settled],
        pricing.tax_of(db, job, (*priced.values(), *settled)),
    )


def _nothing(balance: Balance, job: Job) -> str:
    """Reason why nothing can be invoiced."""
    if balance.to_invoice:
        return gettext("no line chosen: choose at least one to invoice")
    if balance.not_approved:
        return gettext("the customer has not approved this work: record the approval first")
    return gettext("nothing of job {number} is left to invoice", number=job.number)


def lock(db: Session, job: Job) -> None:
    """Let nobody else invoice this job until we are done (SQLite has one writer anyhow)."""
    db.execute(select(Job.id).where(Job.id == job.id).with_for_update())


def _content(
    db: Session,
    by: Actor,
    job: Job,
    charges: Sequence[Charge],
    *,
    kind: str = INVOICE,
    is_preview: bool = False,
) -> InvoicePaper:
    style = the_style(db)
    with spoken_for(db, job.customer):
        tax = pricing.tax_of(db, job, charges)
        pricing.check_discounts(tax)
        supplied_on = None if kind == DEPOSIT_INVOICE else _supplied_on(db, by, charges)
        received = _received(db, job)
        return InvoicePaper(
            shop=facts.letterhead(db),
            display=facts.display(db, job.customer),
            kind=translated(kind),
            is_deposit=kind == DEPOSIT_INVOICE,
            number=PREVIEW_NUMBER if is_preview else next_paper(db, by, InvoiceKind.INVOICE),
            issued_at=by.at,
            issued_by=signer(by),
            customer=facts.party(job),
            job=facts.job_facts(db, job),
            heads=facts.heads_in_words(job),
            lines=tuple(pricing.lines(db, job, charges, tax)),
            tax=tax,
            due_on=by.at.astimezone(zone(get_shop(db))).date() + timedelta(days=style.payment_days),
            received=received,
            balance=tax.total - sum((item.amount for item in received), Decimal(0)),
            payment_terms=style.payment_terms,
            payment_to=style.payment_to,
            tax_number=style.tax_number,
            declined=() if kind == DEPOSIT_INVOICE else approvals.declined_in_words(job),
            preview=is_preview,
            electronic=e_invoices.stated(db, job.customer, tax, supplied_on),
        )


def _supplied_on(db: Session, by: Actor, charges: Sequence[Charge]) -> date:
    """Day on which the last of the steps invoiced was signed off; today where none was."""
    signed_off = [
        charge.row.signed_off_at
        for charge in charges
        if isinstance(charge.row, Operation) and charge.row.signed_off_at is not None
    ]
    return max(signed_off, default=by.at).astimezone(zone(get_shop(db))).date()


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
    ledger.post_invoice(db, row, content.tax)
    audit_log.record(db, by, row, "issued", job=unprinted.job, note=row.number)
    if credits is not None:
        db.expire(credits, ["credit_notes"])
    return row
