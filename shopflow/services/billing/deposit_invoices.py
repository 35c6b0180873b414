"""Invoices of a deposit ahead of the work, which later invoices take off."""

from __future__ import annotations

from collections.abc import Mapping
from decimal import ROUND_HALF_UP, Decimal
from typing import Any

from sqlalchemy.orm import Session

from shopflow.calc.totals import HUNDREDTH
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import Job, JobLine, LineKind, TaxClass
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    balances,
    deposits,
    invoices,
    job_lines,
    pricing,
    quotes,
    taxes,
)
from shopflow.services.billing.invoices import DEPOSIT_INVOICE, Unprinted
from shopflow.services.jobs.jobs import must_not_be_practice
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext, translated


def _above_zero(value: Any) -> Decimal:
    amount = fields.amount()(value)
    if not amount:
        raise ValueError(gettext("enter an amount above 0"))
    return Decimal(amount)


SPECIFICATION: fields.Specification = {
    "amount": _above_zero,
    "tax_class": fields.one_of(TaxClass),
    "description": fields.text(required=True),
}


def suggested(db: Session, job: Job) -> dict[str, Any]:
    """Defaults: the deposit that the last quote asked for, before tax."""
    sent = quotes.of_job(db, job)
    asked = sent[-1].deposit if sent else Decimal(0)
    rate = taxes.category(get_shop(db), job.customer, TaxClass.STANDARD).rate_percent
    net = (asked * 100 / (100 + rate)).quantize(HUNDREDTH, ROUND_HALF_UP)
    return {
        "amount": net or None,
        "tax_class": TaxClass.STANDARD.value,
        "description": gettext("Deposit on job {job}", job=job.number),
    }


def prepare(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Unprinted:
    """A deposit invoice of an amount before tax; the invoices that follow take it off.

    Raises ValidationError at a field, where it exceeds what is left to invoice in its class of tax;
    RuleError where the job is closed or a practice job.
    """
    must_not_be_practice(job)
    if not job.is_open:
        raise RuleError(
            gettext("job {job} is {state}", job=job.number, state=translated(job.state))
        )
    clean = fields.require(SPECIFICATION, values, "amount", "tax_class", "description")
    invoices.lock(db, job)
    rows = balances.not_invoiced(db, job)
    most = deposits.most(db, job, pricing.charges(rows), clean["tax_class"])
    if clean["amount"] > most:
        words = gettext("no more than the {most:.2f} that is left to invoice before tax", most=most)
        raise ValidationError([FieldError("amount", words)])
    line = _line(db, by, job, clean)
    charges = pricing.charges([line])
    return invoices.unprinted(db, by, job, charges, DEPOSIT_INVOICE)


def _line(db: Session, by: Actor, job: Job, clean: Mapping[str, Any]) -> JobLine:
    line = JobLine(
        job=job,
        kind=LineKind.DEPOSIT,
        position=job_lines.next_position(job),
        added_at=by.at,
        description=clean["description"],
        quantity=Decimal(1),
        unit_price=clean["amount"],
        tax_class=clean["tax_class"],
    )
    db.add(line)
    db.flush()
    return line
