"""Approved work: what a customer agreed to at which price, what was declined, what is extra.

Nothing cuts metal and nothing is invoiced beyond it. The owner may release a step ahead of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, bindparam, select
from sqlalchemy.orm import Session

from shopflow.calc.totals import totals
from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import (
    Approval,
    ApprovalLine,
    Job,
    Operation,
    OperationState,
    Quote,
    Release,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import pricing
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext, lazy, translated

SPECIFICATION: fields.Specification = {
    "approved_by": fields.text(required=True),
    "approved_how": fields.text(required=True),
}
UNAPPROVED = lazy("no metal is cut before the customer has approved the work")
EXTRA = lazy("this is extra work that the customer has not approved yet")

_LINES = (
    select(ApprovalLine.operation_id, ApprovalLine.price, ApprovalLine.declined)
    .join(Approval, Approval.id == ApprovalLine.approval_id)
    .order_by(Approval.id)
)
_OF_JOBS = _LINES.where(Approval.job_id.in_(bindparam("jobs", expanding=True)))
_OF_THIS_JOB = _LINES.where(Approval.job_id == bindparam("job_id"))
_OF_JOB = select(Approval).where(Approval.job_id == bindparam("job_id")).order_by(Approval.id)

Prices = dict[int, Decimal]
"""The price approved last, by the key of the operation."""


def of_job(db: Session, job: Job) -> list[Approval]:
    """A job's approvals, the first one first."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def approved_prices(db: Session, job: Job) -> Prices:
    """Prices the customer approved on a job; of a step asked for twice, the later answer counts."""
    return _last(db.execute(_OF_THIS_JOB, {"job_id": job.id}))


def approved_prices_of(db: Session, jobs: Collection[int]) -> Prices:
    """The same of the jobs with these keys."""
    return _last(db.execute(_OF_JOBS, {"jobs": sorted(jobs)}))


def _last(lines: Iterable[Row[int, Decimal, bool]]) -> Prices:
    last = {key: None if declined else price for key, price, declined in lines}
    return {key: price for key, price in last.items() if price is not None}


def is_approved(step: Operation, approved: Prices) -> bool:
    """True where a step may be done and invoiced at its price."""
    return covers(
        approved.get(step.id),
        step.charge,
        step.price,
        cuts_metal=step.kind.cuts_metal,
        is_repeat=bool(step.again_because),
    )


def covers(
    approved: Decimal | None,
    charge: Decimal | None,
    price: Decimal | None,
    *,
    cuts_metal: bool,
    is_repeat: bool,
) -> bool:
    """True where the price approved covers a step's charge.

    A repeat at no charge always may be done, and so may a step that costs nothing and cuts no
    metal.
    """
    free = charge == 0 and not cuts_metal
    if free or (is_repeat and not price):
        return True
    return approved is not None and charge is not None and charge <= approved


def forbids(db: Session, operation: Operation) -> str:
    """Reason why a step may not cut metal yet; empty where it may, or cuts none."""
    return forbidden(db, operation.job_head.job, [operation]).get(operation, "")


def forbidden(db: Session, job: Job, steps: Iterable[Operation]) -> dict[Operation, str]:
    """Those of a job's steps that would cut metal and may not yet, each with the reason."""
    if job.is_development:
        return {}
    cutting = [step for step in steps if step.kind.cuts_metal and step.release is None]
    if job.approved_at is None:
        return dict.fromkeys(cutting, UNAPPROVED)
    approved = approved_prices(db, job) if cutting else {}
    return {step: EXTRA for step in cutting if not is_approved(step, approved)}


def extras(db: Session, job: Job, steps: Iterable[Operation]) -> list[Operation]:
    """Those steps of a job approved already that the customer has not approved at their price."""
    if job.approved_at is None:
        return []
    approved = approved_prices(db, job)
    return [step for step in steps if not is_approved(step, approved)]


def waiting(db: Session, job: Job) -> list[Operation]:
    """A job's open steps that would cut metal and may not yet."""
    open_ones = (step for visit in job.heads for step in visit.operations if step.is_open)
    return list(forbidden(db, job, open_ones))


def priced_work(job: Job) -> list[Operation]:
    """The work of a job that a customer can be asked for: all of it priced.

    Raises RuleError where there is none, a step has no price, or the whole costs nothing.
    """
    steps = pricing.charged(job)
    if not steps:
        raise RuleError(gettext("no work is planned yet: add steps first"))
    blank = [f"{step.kind.name} ({step.job_head.tag})" for step in steps if step.charge is None]
    if blank:
        raise RuleError(
            gettext(
                "not priced yet: {blank}. Enter a price, or 0.00 for no charge",
                blank=", ".join(blank),
            )
        )
    if not job.is_borne_by_shop and not any(step.charge for step in steps):
        raise RuleError(gettext("no step has a price above 0.00: enter the prices first"))
    return steps


def record(
    db: Session,
    by: Actor,
    job: Job,
    approved_by: str,
    approved_how: str,
    *,
    quote: Quote | None = None,
    declined: Collection[int] = (),
) -> Approval:
    """Record the customer's approval: of a quote's lines, or without a quote of the work as
    planned.

    `declined` are keys of steps the customer does not want. Raises ValidationError; RuleError where
    the job is closed, nothing is priced or left to approve, or a step declined was begun already.
    """
    clean = fields.read(SPECIFICATION, {"approved_by": approved_by, "approved_how": approved_how})
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))
    lines = _lines(job, quote)
    unwanted = _unwanted(lines, declined)
    wanted = [price for step, price in lines if step not in unwanted]
    if not wanted:
        raise RuleError(
            gettext("every line is declined: cancel the job, or approve one line at least")
        )
    row = Approval(
        job=job,
        quote=quote,
        at=by.at,
        recorded_by_id=by.person_id,
        total=totals(wanted, pricing.tax_rate(get_shop(db), job.customer)).total,
        lines=[
            ApprovalLine(
                operation_id=step.id, position=position, price=price, declined=step in unwanted
            )
            for position, (step, price) in enumerate(lines, start=1)
        ],
        **clean,
    )
    db.add(row)
    audit_log.record(db, by, row, "recorded", job=job, note=_in_log(row, unwanted))
    for step in unwanted:
        changes = {"state": OperationState.DECLINED}
        audit_log.change(db, by, step, changes, job=job, verb="declined")
    if job.approved_at is None:
        jobs.mark_approved(db, by, job, **clean)
    return row


def declined(job: Job) -> list[Operation]:
    """The steps of a job that the customer declined."""
    return [step for visit in job.heads for step in visit.operations if step.is_declined]


def release(
    db: Session, by: Actor, job: Job, steps: Sequence[Operation], reason: str
) -> list[Release]:
    """Release steps to cut metal ahead of the customer's approval, on the owner's decision.

    Raises ValidationError at `reason`; RuleError where nobody is named or nothing waits.
    """
    clean = fields.read({"reason": fields.text(required=True, most=2000)}, {"reason": reason})
    if by.person is None:
        raise RuleError(gettext("a release needs a person"))
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))
    if not steps:
        raise RuleError(gettext("no step waits for approval"))
    releases = []
    for step in steps:
        step.release = Release(at=by.at, person=by.person, reason=clean["reason"])
        note = f"{step.kind.name}, {step.job_head.tag}: {clean['reason']}"
        audit_log.record(db, by, step.release, "released before approval", job=job, note=note)
        releases.append(step.release)
    return releases


def _lines(job: Job, quote: Quote | None) -> list[tuple[Operation, Decimal]]:
    """The steps that are asked for, each at the price asked."""
    if quote is None:
        return [(step, step.charge or Decimal(0)) for step in priced_work(job)]
    steps = {step.id: step for visit in job.heads for step in visit.operations}
    lines = [(steps[line.operation_id], line.price) for line in quote.lines]
    # A step skipped since is no longer asked for.
    return [(step, price) for step, price in lines if step.counts]


def _unwanted(
    lines: Sequence[tuple[Operation, Decimal]], declined: Collection[int]
) -> list[Operation]:
    steps = {step.id: step for step, _ in lines}
    if not set(declined) <= steps.keys():
        raise ValidationError(
            [
                FieldError(
                    "lines", gettext("a chosen line is no longer offered: check the lines again")
                )
            ]
        )
    unwanted = [step for key, step in steps.items() if key in declined]
    begun = [step for step in unwanted if step.state is not OperationState.PLANNED]
    if begun:
        states = ", ".join(f"{step.kind.name} ({translated(step.state)})" for step in begun)
        raise RuleError(
            gettext("{states}: only a step that is not begun can be declined", states=states)
        )
    return unwanted


def _in_log(row: Approval, unwanted: Sequence[Operation]) -> str:
    texts: list[Any] = [row.quote.title] if row.quote else []
    approved = gettext(
        "{total} with tax, by {person}, {how}",
        total=row.total,
        person=row.approved_by,
        how=translated(row.approved_how),
    )
    texts.append(approved)
    if unwanted:
        declined = ", ".join(step.kind.name for step in unwanted)
        texts.append(gettext("declined: {steps}", steps=declined))
    return "; ".join(texts)
