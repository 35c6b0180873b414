"""Charges of a job: its steps and lines with their prices, in the order documents have them."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.totals import HUNDREDTH
from shopflow.documents.money import MoneyLine, Tax, percent
from shopflow.errors import RuleError
from shopflow.models import DiscountOf, Job, JobLine, LineKind, Operation
from shopflow.services.billing import taxes
from shopflow.services.billing.taxes import Share
from shopflow.texts import gettext

Charged = Operation | JobLine
"""A step, or a line beside the steps."""


@dataclass(frozen=True)
class Charge:
    """A step or a line at its price among others, of which a discount may be a share."""

    row: Charged
    price: Decimal | None
    """Before tax; below zero for a discount; none where it is not priced."""

    shares: tuple[Share, ...]
    """The price by class of tax."""

    settles: str = ""
    """Number of the deposit invoice that it takes off; empty for a charge."""

    @property
    def amount(self) -> Decimal:
        """The price; nothing where it is not priced."""
        return self.price or Decimal(0)


def charged(job: Job) -> list[Charged]:
    """Everything that is charged on a job: head by head its steps and lines, then the job's lines;
    a repeat only at a price, discounts last."""
    lines: dict[int | None, list[JobLine]] = {}
    for line in sorted(job.lines, key=lambda line: (line.is_discount, line.position)):
        if line.counts:
            lines.setdefault(line.job_head_id, []).append(line)
    rows: list[Charged] = []
    for visit in job.heads:
        steps_charged = [
            step for step in visit.operations
            if step.counts and (step.price or not step.again_because)
        ]  # fmt: skip
        rows += _packed([*steps_charged, *lines.get(visit.id, ())])
    return [*rows, *lines.get(None, ())]


def _packed(rows: Sequence[Charged]) -> Iterator[Charged]:
    """Steps and lines in order, what is in a package after the package."""
    packages = {row.id for row in rows if isinstance(row, JobLine)}
    for row in rows:
        if row.package_id not in packages:
            yield row
        if isinstance(row, JobLine) and row.kind is LineKind.PACKAGE:
            yield from (member for member in rows if member.package_id == row.id)


def all_rows(job: Job) -> list[Charged]:
    """Every step and line of a job, charged or not."""
    return [*(step for visit in job.heads for step in visit.operations), *job.lines]


def steps(rows: Iterable[Charged]) -> list[Operation]:
    """The steps among what is charged."""
    return [row for row in rows if isinstance(row, Operation)]


def by_head(job: Job, charges: Sequence[Charge]) -> list[tuple[str, list[Charge], Decimal]]:
    """Charges of each head by its tag, then those of the whole job, each group with its sum."""
    groups = []
    for tag in (*(visit.tag for visit in job.heads), ""):
        of_head = [charge for charge in charges if charge.row.tag == tag]
        if of_head:
            groups.append((tag, of_head, taxes.sum_of(charge.amount for charge in of_head)))
    return groups


def reference(row: Charged) -> dict[str, int]:
    """The column of a document's line that says what it is for, with its key."""
    return {"operation_id" if isinstance(row, Operation) else "job_line_id": row.id}


def is_per_cent(row: Charged) -> bool:
    """True of a discount that is a share of other charges."""
    return isinstance(row, JobLine) and row.percent is not None


def charges(rows: Sequence[Charged], prices: Mapping[str, Decimal] | None = None) -> list[Charge]:
    """Each of these at its price, or at that of `prices` by its key.

    A discount in per cent is taken of those among them that it is of, by class of tax, and rounded
    half up for each class.
    """
    fixed = {row.key: _fixed(row, prices or {}) for row in rows if not is_per_cent(row)}
    return [
        _per_cent(row, fixed.values())
        if isinstance(row, JobLine) and row.percent is not None
        else fixed[row.key]
        for row in rows
    ]


def _fixed(row: Charged, prices: Mapping[str, Decimal]) -> Charge:
    price = prices.get(row.key, row.charge)
    return Charge(row, price, ((row.tax_class, price or Decimal(0)),))


def _per_cent(line: JobLine, others: Iterable[Charge]) -> Charge:
    sums: dict[str, Share] = {}
    for charge in others:
        if covers(line, charge.row):
            for tax_class, amount in charge.shares:
                _, so_far = sums.get(tax_class, (tax_class, Decimal(0)))
                sums[tax_class] = (tax_class, so_far + amount)
    rate = (line.percent or Decimal(0)) / 100
    shares = tuple(
        (tax_class, -(amount * rate).quantize(HUNDREDTH, ROUND_HALF_UP))
        for tax_class, amount in sums.values()
    )
    price = taxes.sum_of(amount for _, amount in shares)
    return Charge(line, price, shares or ((line.tax_class, price),))


def covers(discount: JobLine, row: Charged) -> bool:
    """True where a discount in per cent is taken of a charge; outside work counts as work."""
    if discount.job_head_id is not None and row.job_head_id != discount.job_head_id:
        return False
    if isinstance(row, Operation):
        return discount.discount_of is not DiscountOf.PARTS
    if row.is_discount or row.is_text:
        return False
    return {
        DiscountOf.EVERYTHING: True,
        DiscountOf.WORK: row.kind is LineKind.OUTSIDE_WORK,
        DiscountOf.PARTS: row.kind is LineKind.PART,
    }[discount.discount_of]


def with_discounts(chosen: Sequence[Charged], rows: Iterable[Charged]) -> list[Charged]:
    """These charges with the discounts in per cent among `rows` that are taken of any of them."""
    return [
        *chosen,
        *(
            row for row in rows
            if isinstance(row, JobLine) and row.percent is not None and row not in chosen
            and any(covers(row, other) for other in chosen)
        ),
    ]  # fmt: skip


def tax(db: Session, job: Job, rows: Sequence[Charged]) -> Tax:
    """Tax on these charges of a job's customer; one not priced yet adds nothing."""
    return tax_of(db, job, charges(rows))


def tax_of(db: Session, job: Job, chosen: Iterable[Charge]) -> Tax:
    """Tax on charges priced already."""
    return taxes.tax(db, job, (share for charge in chosen for share in charge.shares))


def check_discounts(tax: Tax) -> None:
    """Raise RuleError where discounts come to more than the lines they are taken of."""
    if any(part.net < 0 for part in tax.by_rate):
        raise RuleError(
            gettext(
                "the discounts come to more than the lines of their tax class: lower the discount, "
                "or choose more lines"
            )
        )


def lines(
    db: Session, job: Job, chosen: Sequence[Charge], tax: Tax, *, minutes: bool = False
) -> Iterator[MoneyLine]:
    """Charges as lines of a document; instructions are the shop's own."""
    for charge in chosen:
        row = charge.row
        if isinstance(row, Operation):
            line = _of_step(row, charge, minutes=minutes)
        else:
            line = _of_line(row, charge)
        yield replace(line, **_taxed(db, job, charge)) if tax.parts else line


def _taxed(db: Session, job: Job, charge: Charge) -> dict[str, Any]:
    """The rate of a line and its shares, for a document with several categories."""
    shares = taxes.by_category_of(db, job, charge.shares)
    is_text = isinstance(charge.row, JobLine) and charge.row.is_text
    mark = taxes.mark(shares[0]) if len(shares) == 1 and not is_text else ""
    return {"tax_mark": mark, "shares": shares}


def _of_step(step: Operation, charge: Charge, *, minutes: bool) -> MoneyLine:
    return MoneyLine(
        head=step.tag,
        what=step.title,
        price=charge.amount,
        waived=_waived(step),
        detail=step.customer_text,
        is_included=step.package_id is not None,
        minutes=step.planned_minutes if minutes else 0,
    )


def _of_line(line: JobLine, charge: Charge) -> MoneyLine:
    quantity = quantity_in_words(line)
    is_included = line.package is not None
    return MoneyLine(
        head=line.tag,
        what=line.title,
        price=charge.amount,
        waived=_waived(line),
        detail=_settled(charge) or _of_what(line),
        quantity=quantity,
        unit_price=line.unit_price if quantity and not is_included else None,
        is_included=is_included,
        group=gettext("Deposits invoiced before") if charge.settles else "",
        part_number=line.part_number,
        is_text=line.is_text,
    )


def quantity_in_words(line: JobLine) -> str:
    """As "8 pc"; empty for a discount, a text, and one without a unit."""
    if line.is_discount or line.is_text or (line.quantity == 1 and not line.unit):
        return ""
    return f"{line.quantity:f} {line.unit}".strip()


def _settled(charge: Charge) -> str:
    """The deposit invoice that a line takes off."""
    return gettext("invoice {number}", number=charge.settles) if charge.settles else ""


def _of_what(line: JobLine) -> str:
    """Charges that a discount in per cent is taken of, or the package a part is in, in words."""
    if line.package is not None:
        return gettext("included in {package}", package=line.package.description)
    if line.percent is None:
        return ""
    rate = percent(line.percent)
    if line.discount_of is DiscountOf.WORK:
        return gettext("{rate} of the work", rate=rate)
    if line.discount_of is DiscountOf.PARTS:
        return gettext("{rate} of the parts", rate=rate)
    return gettext("{rate} of all lines", rate=rate)


def _waived(row: Charged) -> Decimal:
    """Price that the shop bears itself."""
    return max((row.price or Decimal(0)) - (row.charge or Decimal(0)), Decimal(0))
