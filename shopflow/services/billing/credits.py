"""Credit notes: an invoice credited, whole or in part, never beyond what is left of it."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.totals import HUNDREDTH, totals
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.money import LineTax, MoneyLine, Tax, TaxPart
from shopflow.documents.snapshot import from_plain
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import Invoice, InvoiceKind, InvoiceLine
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.billing import deposits, e_invoices, invoices, pricing, taxes
from shopflow.services.billing.invoices import Unprinted
from shopflow.services.paperwork import facts
from shopflow.services.shop.house_style import the_style
from shopflow.texts import gettext, spoken

REASON: fields.Specification = {"reason": fields.text(required=True, most=2000)}


@dataclass(frozen=True)
class OpenLine:
    """A line of an invoice, and what credit notes have left of it; before tax."""

    row: InvoiceLine
    printed: MoneyLine
    """As the invoice has it."""

    left: Decimal

    @property
    def name(self) -> str:
        """The field that holds how much of it is credited."""
        return f"amount-{self.row.key}"

    @property
    def is_discount(self) -> bool:
        """True where it was taken off: what is credited of it is below zero too."""
        return self.printed.price < 0


def open_lines(invoice: Invoice) -> list[OpenLine]:
    """The lines of an invoice with the balance of each."""
    printed = from_plain(InvoicePaper, invoice.snapshot).lines
    credited: dict[str, Decimal] = {}
    for note in invoice.credit_notes:
        for line in note.lines:
            credited[line.key] = credited.get(line.key, Decimal(0)) + line.price
    return [
        OpenLine(line, printed[line.position - 1],
             line.price - credited.get(line.key, Decimal(0)))
        for line in invoice.lines
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
    _must_be_unsettled(db, invoice, amounts_by_line)
    content = _content(db, by, invoice, clean["reason"], amounts_by_line)
    rows = tuple(
        InvoiceLine(
            operation_id=line.row.operation_id, job_line_id=line.row.job_line_id,
            position=line.row.position, price=amount,
        )
        for line, amount in amounts_by_line.items()
    )  # fmt: skip
    return Unprinted(invoice.job, InvoiceKind.CREDIT_NOTE, content, rows, credits=invoice)


def _must_be_unsettled(db: Session, invoice: Invoice, amounts: Mapping[OpenLine, Decimal]) -> None:
    """Refuse to credit a deposit that a later invoice took off."""
    left = {deposit.line.key: deposit.open for deposit in deposits.of_job(db, invoice.job)}
    if any(amount > left.get(line.row.key, amount) for line, amount in amounts.items()):
        raise RuleError(
            gettext("a later invoice settled this deposit: issue a credit note for that one first")
        )


def _all(lines: Sequence[OpenLine]) -> dict[OpenLine, Decimal]:
    """Balance of every line; lines charged at nothing are credited with it."""
    return {line: line.left for line in lines if line.left or not line.printed.price}


def _chosen(lines: Sequence[OpenLine], amounts: Mapping[str, Any]) -> dict[OpenLine, Decimal]:
    """Amount to credit on each chosen line."""
    read = fields.read({line.name: _amount(line) for line in lines}, amounts)
    chosen = {line: read[line.name] for line in lines if read.get(line.name)}
    faults = [
        FieldError(line.name, gettext("no more than the {left:.2f} that is left", left=line.left))
        for line, amount in chosen.items()
        if abs(amount) > abs(line.left)
    ]
    if faults:
        raise ValidationError(faults)
    if not chosen:
        raise RuleError(gettext("no amount: enter the credit for at least one line"))
    return chosen


def _amount(line: OpenLine) -> fields.Reader:
    """Reader of the amount credited of a line."""
    if not line.is_discount:
        return fields.amount()
    reader = fields.decimal(places=2, least=None)

    def below_zero(value: Any) -> Decimal:
        amount = reader(value) or Decimal(0)
        if amount > 0:
            raise ValueError(gettext("a discount is credited below zero: enter 0 or less"))
        return Decimal(amount)

    return below_zero


def _content(
    db: Session,
    by: Actor,
    invoice: Invoice,
    reason: str,
    credited: Mapping[OpenLine, Decimal],
) -> InvoicePaper:
    was = from_plain(InvoicePaper, invoice.snapshot)
    tax = _tax(was, invoice, credited)
    pricing.check_discounts(tax)
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
            electronic=e_invoices.stated(db, invoice.job.customer, tax, _supplied(was), invoice),
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
    return replace(
        line.printed,
        price=amount,
        detail=gettext("of {whole}", whole=price),
        quantity="",
        unit_price=None,
        shares=_shares(was, line, amount),
    )


def _supplied(was: InvoicePaper) -> date | None:
    """Day of the work that an invoice charged, where it states one."""
    return was.electronic.supplied_on if was.electronic else None


def _shares(was: InvoicePaper, line: OpenLine, amount: Decimal) -> tuple[LineTax, ...]:
    """An amount credited by category, where the line has them."""
    if not line.printed.shares:
        return ()
    return tuple(
        LineTax(part.code, part.rate_percent, share)
        for part in was.tax.by_rate
        if (share := _share(line, amount, part)) is not None
    )


def _tax(was: InvoicePaper, invoice: Invoice, credited: Mapping[OpenLine, Decimal]) -> Tax:
    """Tax at the invoice's rates; the last credit note takes the remainder, to the cent."""
    notes = [from_plain(Tax, note.snapshot["tax"]) for note in invoice.credit_notes]
    parts = tuple(
        part for charged in was.tax.by_rate if (part := _part(charged, notes, credited)) is not None
    )
    net, tax = (
        taxes.sum_of(amounts)
        for amounts in ([part.net for part in parts], [part.tax for part in parts])
    )
    only = parts[0] if len(parts) == 1 else None
    return replace(
        was.tax,
        net=net,
        tax=tax,
        total=net + tax,
        rate_percent=only.rate_percent if only else was.tax.rate_percent,
        exemption=only.exemption if only else was.tax.exemption,
        code=only.code if only and only.code not in "SZE" else "",
        parts=() if only else parts,
    )


def _part(
    charged: TaxPart, notes: Sequence[Tax], credited: Mapping[OpenLine, Decimal]
) -> TaxPart | None:
    """Sum and tax that a note credits in a category of the invoice; none where nothing of it."""
    of_it = [
        share
        for line, amount in credited.items()
        if (share := _share(line, amount, charged)) is not None
    ]
    if not of_it:
        return None
    before = [part for note in notes for part in note.by_rate if _is_same(part, charged)]
    net_left = charged.net - taxes.sum_of(part.net for part in before)
    tax_left = charged.tax - taxes.sum_of(part.tax for part in before)
    sums = totals(of_it, charged.rate_percent)
    tax = tax_left if sums.net == net_left else min(sums.tax, tax_left)
    return replace(charged, net=sums.net, tax=tax)


def _share(line: OpenLine, amount: Decimal, part: TaxPart) -> Decimal | None:
    """Share of an amount credited that is in a category; the last of several takes what is left."""
    shares = line.printed.shares
    if not shares:
        return amount
    at = next((index for index, each in enumerate(shares) if _is_same(each, part)), None)
    if at is None:
        return None
    parts = [
        (amount * each.net / line.printed.price).quantize(HUNDREDTH, ROUND_HALF_UP)
        for each in shares[:-1]
    ] if line.printed.price else [each.net for each in shares[:-1]]  # fmt: skip
    return [*parts, amount - sum(parts, Decimal(0))][at]


def _is_same(one: TaxPart | LineTax, other: TaxPart) -> bool:
    return (one.code, one.rate_percent) == (other.code, other.rate_percent)
