"""Payments on a job: deposits, payments and what was paid back; never changed afterwards."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, NotFoundError, ValidationError
from shopflow.models import Job, Payment
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import balances, ledger
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext, lazy

_OF_JOB = (
    select(Payment)
    .where(Payment.job_id == bindparam("job_id"))
    .order_by(Payment.received_on, Payment.id)
)


WAYS = (lazy("cash"), lazy("card"), lazy("bank transfer"))
MOST_WAYS = 4


def _not_nothing(value: Any) -> Decimal:
    amount = fields.decimal(places=2, least=None)(value)
    if not amount:
        raise ValueError(gettext("enter an amount above 0, or below 0 for money paid back"))
    return Decimal(amount)


def _day(value: Any) -> date:
    day = fields.day()(value)
    if day is None:
        raise ValueError(gettext("enter the day it was received"))
    return day  # type: ignore[no-any-return]


SPECIFICATION: fields.Specification = {
    "received_on": _day,
    "amount": _not_nothing,
    "method": fields.text(required=True),
    "note": fields.text(),
    "is_deposit": fields.flag(),
    "overpayment_meant": fields.flag(),
}


def record(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> Payment:
    """Record a payment or a repayment. Raises ValidationError.

    More than the work comes to must be meant (`overpayment_meant`); no more is paid back than came
    in. A payment is never changed: a mistake is reversed by one of the opposite amount.
    """
    jobs.must_not_be_practice(job)
    today = by.at.astimezone(zone(get_shop(db))).date()
    entered = {"received_on": today, **values}
    clean = fields.require(SPECIFICATION, entered, "amount", "method")
    meant = clean.pop("overpayment_meant", False)
    _check(balances.of_job(db, job), clean, meant)
    payment = Payment(job=job, recorded_at=by.at, recorded_by_id=by.person_id, **clean)
    db.add(payment)
    ledger.post_payment(db, payment)
    note = f"{payment.amount} {payment.method}"
    if payment.is_deposit:
        note = gettext("{payment}, deposit", payment=note)
    audit_log.record(db, by, payment, "received", job=job, note=note)
    return payment


def usual_ways(db: Session) -> list[str]:
    """The ways of paying that the shop recorded most, up to MOST_WAYS; those of a new shop else."""
    query = (
        select(Payment.method)
        .where(Payment.amount > Decimal(0))
        .group_by(Payment.method)
        .order_by(func.count().desc(), Payment.method)
        .limit(MOST_WAYS)
    )
    return list(db.scalars(query)) or [str(way) for way in WAYS]


def of_job(db: Session, job: Job) -> list[Payment]:
    """A job's payments in the order they came in."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def get(db: Session, payment_id: int) -> Payment:
    """The payment with this key. Raises NotFoundError."""
    row = db.get(Payment, payment_id)
    if row is None:
        raise NotFoundError(gettext("there is no payment {payment_id}", payment_id=payment_id))
    return row


def _check(balance: balances.Balance, clean: Mapping[str, Any], meant: bool) -> None:
    amount, owed = clean["amount"], balance.expected
    if amount < 0 and -amount > balance.received:
        raise ValidationError(
            [
                FieldError(
                    "amount",
                    gettext("no more than the {received:.2f} received", received=balance.received),
                )
            ]
        )
    # A deposit may be taken before anything is priced.
    early = clean.get("is_deposit") and not balance.has_work
    if amount > max(owed, Decimal(0)) and not meant and not early:
        message = (
            gettext(
                "{amount:.2f} is more than is owed: {owed:.2f} is left to pay",
                amount=amount,
                owed=owed,
            )
            if owed > 0
            else gettext("{amount:.2f} is more than is owed: nothing is left to pay", amount=amount)
        )
        raise ValidationError([FieldError("overpayment_meant", message)])
