"""Charges for a job's work: its lines, and the tax on them."""

from __future__ import annotations

from collections.abc import Sequence
from decimal import Decimal

from sqlalchemy.orm import Session

from shopflow.calc.totals import totals
from shopflow.documents.money import MoneyLine, Tax
from shopflow.models import Customer, Job, Operation, Shop
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.settings import get_shop
from shopflow.texts import translated


def charged(job: Job) -> list[Operation]:
    """Every operation of a job that is charged for, head by head; a repeat only at a price."""
    return [
        step
        for visit in job.heads
        for step in visit.operations
        if step.counts and (step.price or not step.again_because)
    ]


def line(step: Operation, *, minutes: bool = False) -> MoneyLine:
    """An operation as a line of a money paper; its instructions are the shop's own."""
    return MoneyLine(
        head=step.job_head.tag,
        what=step.kind.name,
        price=step.charge or Decimal(0),
        waived=_waived(step),
        detail=step.customer_text,
        minutes=step.planned_minutes if minutes else 0,
    )


def _waived(step: Operation) -> Decimal:
    """Price of a step that the shop bears itself."""
    return (step.price or Decimal(0)) - (step.charge or Decimal(0))


def tax(db: Session, job: Job, steps: Sequence[Operation]) -> Tax:
    """Tax on these steps at the customer's rate; one not priced yet adds nothing."""
    rate = tax_rate(get_shop(db), job.customer)
    sums = totals((step.charge or Decimal(0) for step in steps), rate)
    return Tax(
        net=sums.net,
        rate_percent=rate,
        tax=sums.tax,
        total=sums.total,
        label=translated(the_style(db).tax_label),
        exemption="" if rate else job.customer.tax_exemption,
    )


def tax_rate(shop: Shop, customer: Customer) -> Decimal:
    """The customer's own rate, nothing for one who states an exemption, else the shop's."""
    if customer.tax_rate_percent is not None:
        return customer.tax_rate_percent
    return Decimal(0) if customer.tax_exemption else shop.tax_rate_percent
