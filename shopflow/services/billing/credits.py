"""Credit notes: an invoice credited, whole or in part, never beyond what is left of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.totals import totals
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.money import MoneyLine, Tax
from shopflow.documents.snapshot import from_plain
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import Invoice, InvoiceKind, InvoiceLine
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.billing import invoices
from shopflow.services.billing.invoices import Unprinted
from shopflow.services.paperwork import facts
from shopflow.services.shop.house_style import the_style
from shopflow.texts import gettext, spoken

REASON: fields.Specification = {"reason": fields.text(required=True, most=2000)}


@dataclass(frozen=True)
class OpenLine:
    """A line of an invoice, and what credit notes have left of it; before tax."""

    operation_id: int
    position: int
    printed: MoneyLine
    """As the invoice has it."""

    left: Decimal

    @property
    def name(self) -> str:
        """The field that holds how much of it is credited."""
        return f"amount-{self.operation_id}"


def open_lines(invoice: Invoice) -> list[OpenLine]:
    """The lines of an invoice with the balance of each."""
    lines_printed = from_plain(InvoicePaper, invoice.snapshot).lines
    credited: dict[int, Decimal] = {}
    for note in invoice.credit_notes:
        for line in note.lines:
            so_far = credited.get(line.operation_id, Decimal(0))
            credited[line.operation_id] = so_far + line.price
    return [
        OpenLine(line.operation_id, line.position, words,
             line.price - credited.get(line.operation_id, Decimal(0)))
        for line, words in zip(invoice.lines, lines_printed, strict=True)
    ]  # fmt: skip


def prepare(
    db: Session, by: Actor, invoice: Invoice, reason: str, amounts: Mapping[str, Any] | None = None
) -> Unprinted:
    """A credit note of the balance of an invoice, or of these amounts before tax of its lines.

    An amount is named as `OpenLine.name`. Once nothing is left, the invoice's work can be invoiced
    again. Raises ValidationError at `reason` or an amount, RuleError where nothing is left or
    chosen.
    """
    clean = fields.read(REASON, {"reason": reason})
    invoices.lock(db, invoice.job)
    db.refresh(invoice, ["credit_notes"])
    if invoice.kind is not InvoiceKind.INVOICE:
        raise RuleError(gettext("a credit note cannot be credited: issue a new invoice"))
    if invoice.is_taken_back:
        notes = ", ".join(note.number for note in invoice.credit_notes)
        raise RuleError(
            gettext(
                "invoice {invoice} was credited by {notes}", invoice=invoice.number, notes=notes
            )
        )
    lines = open_lines(invoice)
    amounts_by_line = _all(lines) if amounts is None else _chosen(lines, amounts)
    content = _content(db, by, invoice, clean["reason"], amounts_by_line, lines)
    rows = tuple(
        InvoiceLine(operation_id=line.operation_id, position=line.position, price=amount)
        for line, amount in amounts_by_line.items()
    )
    return Unprinted(invoice.job, InvoiceKind.CREDIT_NOTE, content, rows, credits=invoice)


def _all(lines: Sequence[OpenLine]) -> dict[OpenLine, Decimal]:
    """Balance of every line; lines charged at nothing are credited with it."""
    return {line: line.left for line in lines if line.left or not line.printed.price}


def _chosen(lines: Sequence[OpenLine], amounts: Mapping[str, Any]) -> dict[OpenLine, Decimal]:
    """Amount to credit on each chosen line."""
    read = fields.read({line.name: fields.amount() for line in lines}, amounts)
    chosen = {line: read[line.name] for line in lines if read.get(line.name)}
    faults = [
        FieldError(line.name, gettext("no more than the {left:.2f} that is left", left=line.left))
        for line, amount in chosen.items()
        if amount > line.left
    ]
    if faults:
        raise ValidationError(faults)
    if not chosen:
        raise RuleError(gettext("no amount: enter the credit for at least one line"))
    return chosen


def _content(
    db: Session,
    by: Actor,
    invoice: Invoice,
    reason: str,
    credited: Mapping[OpenLine, Decimal],
    lines: Sequence[OpenLine],
) -> InvoicePaper:
    was = from_plain(InvoicePaper, invoice.snapshot)
    tax = _tax(was, invoice, credited, lines)
    is_whole = tax.total == invoice.total
    display = facts.display(db, invoice.job.customer)
    with spoken(display.language):
        return InvoicePaper(
            shop=facts.letterhead(db),
            display=display,
            kind=gettext("Credit note"),
            number=invoices.next_paper(db, by, InvoiceKind.CREDIT_NOTE),
            issued_at=by.at,
            issued_by=invoices.signer(by),
            customer=was.customer,
            job=was.job,
            heads=was.heads,
            lines=tuple(_line(was, line, amount) for line, amount in credited.items()),
            tax=tax,
            tax_number=the_style(db).tax_number,
            credits=gettext(
                "invoice {number} of {day}",
                number=was.number,
                day=display.moment(was.issued_at),
            ),
            reason=reason,
            stands=None if is_whole else invoice.balance - tax.total,
        )


def _line(was: InvoicePaper, line: OpenLine, amount: Decimal) -> MoneyLine:
    """A line of the note; where it credits a part, it says of how much."""
    if amount == line.printed.price:
        return line.printed
    price = was.display.money(line.printed.price)
    return replace(line.printed, price=amount, detail=gettext("of {whole}", whole=price))


def _tax(
    was: InvoicePaper,
    invoice: Invoice,
    credited: Mapping[OpenLine, Decimal],
    lines: Sequence[OpenLine],
) -> Tax:
    """Tax at the invoice's rate; the last credit note takes the remainder, to the cent."""
    sums = totals(credited.values(), was.tax.rate_percent)
    tax_left = invoice.tax - sum((note.tax for note in invoice.credit_notes), Decimal(0))
    all_of_it = sums.net == sum(line.left for line in lines)
    tax = tax_left if all_of_it else min(sums.tax, tax_left)
    return replace(was.tax, net=sums.net, tax=tax, total=sums.net + tax)
