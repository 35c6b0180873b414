"""Approved work: what a customer agreed to at which price, what was declined, what is extra.

Nothing cuts metal and nothing is invoiced beyond it. The owner may release a step ahead of it.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import Row, bindparam, select
from sqlalchemy.orm import Session

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import (
    Approval,
    ApprovalLine,
    Job,
    JobLine,
    LineState,
    Operation,
    OperationState,
    Quote,
    Release,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import pricing
from shopflow.services.billing.pricing import Charge, Charged
from shopflow.services.jobs import jobs
from shopflow.texts import gettext, lazy, translated

SPECIFICATION: fields.Specification = {
    "approved_by": fields.text(required=True),
    "approved_how": fields.text(required=True),
}
UNAPPROVED = lazy("no metal is cut before the customer has approved the work")
EXTRA = lazy("this is extra work that the customer has not approved yet")

_LINES = (
    select(
        ApprovalLine.operation_id, ApprovalLine.job_line_id, ApprovalLine.price,
        ApprovalLine.declined,
    )
    .join(Approval, Approval.id == ApprovalLine.approval_id)
    .order_by(Approval.id)
)  # fmt: skip
_OF_JOBS = _LINES.where(Approval.job_id.in_(bindparam("jobs", expanding=True)))
_OF_THIS_JOB = _LINES.where(Approval.job_id == bindparam("job_id"))
_OF_JOB = select(Approval).where(Approval.job_id == bindparam("job_id")).order_by(Approval.id)

Prices = dict[str, Decimal]
"""The price approved last, by the key of the step or line."""

Keys = Collection[int | str]
"""Keys of steps and lines, as `Operation.key` and `JobLine.key` or a step's own."""


def of_job(db: Session, job: Job) -> list[Approval]:
    """A job's approvals, the first one first."""
    return list(db.scalars(_OF_JOB, {"job_id": job.id}))


def approved_prices(db: Session, job: Job) -> Prices:
    """Prices the customer approved on a job; asked twice for the same, the later answer counts."""
    return _last(db.execute(_OF_THIS_JOB, {"job_id": job.id}))


def approved_prices_of(db: Session, jobs: Collection[int]) -> Prices:
    """The same of the jobs with these keys."""
    return _last(db.execute(_OF_JOBS, {"jobs": sorted(jobs)}))


def _last(lines: Iterable[Row[int | None, int | None, Decimal, bool]]) -> Prices:
    last = {
        f"line-{line}" if step is None else str(step): None if declined else price
        for step, line, price, declined in lines
    }
    return {key: price for key, price in last.items() if price is not None}


def is_approved(row: Charged, approved: Prices) -> bool:
    """True where a step may be done, and a step or line be invoiced, at its price.

    A discount and a text ask for nothing: they go along once the job is approved. What is in a
    package is approved with it.
    """
    if row.package_id is not None and row.key not in approved:
        return False
    if isinstance(row, JobLine):
        if not row.is_charge:
            return row.job.approved_at is not None
        return covers(
            approved.get(row.key), row.charge, row.price, cuts_metal=False, is_repeat=False
        )
    step = row
    return covers(
        approved.get(step.key),
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


def extras(db: Session, job: Job, rows: Iterable[Charged]) -> list[Charged]:
    """Charges of a job approved already that the customer has not approved at their price."""
    if job.approved_at is None:
        return []
    approved = approved_prices(db, job)
    return [row for row in rows if not is_approved(row, approved)]


def waiting(db: Session, job: Job) -> list[Operation]:
    """A job's open steps that would cut metal and may not yet."""
    open_ones = (step for visit in job.heads for step in visit.operations if step.is_open)
    return list(forbidden(db, job, open_ones))


def priced_work(db: Session, job: Job) -> list[Charge]:
    """Everything of a job that a customer can be asked for: all of it priced.

    Raises RuleError where there is none, something has no price, the whole costs nothing, or the
    discounts come to more than what they are taken of.
    """
    charges = pricing.charges(pricing.charged(job))
    if not charges:
        raise RuleError(gettext("no work is planned yet: add steps first"))
    blank = [_named(charge.row) for charge in charges if charge.price is None]
    if blank:
        raise RuleError(
            gettext(
                "not priced yet: {blank}. Enter a price, or 0.00 for no charge",
                blank=", ".join(blank),
            )
        )
    if not job.is_borne_by_shop and not any(charge.price for charge in charges):
        raise RuleError(gettext("no step has a price above 0.00: enter the prices first"))
    pricing.check_discounts(pricing.tax_of(db, job, charges))
    return charges


def _named(row: Charged) -> str:
    return f"{row.title} ({row.tag})" if row.tag else row.title


def record(
    db: Session,
    by: Actor,
    job: Job,
    approved_by: str,
    approved_how: str,
    *,
    quote: Quote | None = None,
    declined: Keys = (),
) -> Approval:
    """Record the customer's approval: of a quote's lines, or without a quote of the work as
    planned.

    `declined` are keys of what the customer does not want. Raises ValidationError; RuleError where
    the job is closed, nothing is priced or left to approve, or a step declined was begun already.
    """
    clean = fields.read(SPECIFICATION, {"approved_by": approved_by, "approved_how": approved_how})
    if not job.is_open:
        raise RuleError(gettext("job {job} is {state}", job=job.number, state=job.state))
    lines = _lines(db, job, quote)
    unwanted = _unwanted(lines, declined)
    wanted = _wanted(lines, unwanted)
    if not any(is_on_offer(charge.row) for charge in wanted):
        raise RuleError(
            gettext("every line is declined: cancel the job, or approve one line at least")
        )
    prices = {charge.row.key: charge.amount for charge in (*lines, *wanted)}
    total = pricing.tax_of(db, job, wanted)
    pricing.check_discounts(total)
    row = Approval(
        job=job,
        quote=quote,
        at=by.at,
        recorded_by_id=by.person_id,
        total=total.total,
        lines=[
            ApprovalLine(
                **pricing.reference(charge.row),
                position=position,
                price=prices[charge.row.key],
                declined=charge.row in unwanted,
            )
            for position, charge in enumerate(lines, start=1)
        ],
        **clean,
    )
    db.add(row)
    audit_log.record(db, by, row, "recorded", job=job, note=_in_log(row, unwanted))
    for unwanted_row in unwanted:
        is_step = isinstance(unwanted_row, Operation)
        changes = {"state": OperationState.DECLINED if is_step else LineState.DECLINED}
        audit_log.change(db, by, unwanted_row, changes, job=job, verb="declined")
    if job.approved_at is None:
        jobs.mark_approved(db, by, job, **clean)
    return row


def declined(job: Job) -> list[Charged]:
    """Steps and lines of a job that the customer declined."""
    return [row for row in pricing.all_rows(job) if row.is_declined]


def declined_in_words(job: Job) -> tuple[str, ...]:
    """Names of the steps and lines declined, each with its head."""
    return tuple(f"{row.tag}: {row.title}" if row.tag else row.title for row in declined(job))


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


def _lines(db: Session, job: Job, quote: Quote | None) -> list[Charge]:
    """Charges asked for, each at the price asked."""
    if quote is None:
        return priced_work(db, job)
    return quoted(job, quote)


def quoted(job: Job, quote: Quote) -> list[Charge]:
    """Charges of a quote at the prices asked; none that was skipped or removed since."""
    rows = {row.key: row for row in pricing.all_rows(job)}
    asked = [rows[line.key] for line in quote.lines if rows[line.key].counts]
    return pricing.charges(asked, {line.key: line.price for line in quote.lines})


def _wanted(lines: Sequence[Charge], unwanted: Sequence[Charged]) -> list[Charge]:
    """The lines not declined; a discount in per cent is taken of these alone."""
    prices = {charge.row.key: charge.amount for charge in lines}
    return pricing.charges([charge.row for charge in lines if charge.row not in unwanted], prices)


def _unwanted(lines: Sequence[Charge], declined: Keys) -> list[Charged]:
    rows = {charge.row.key: charge.row for charge in lines if is_on_offer(charge.row)}
    keys = set(map(str, declined))
    if not keys <= rows.keys():
        raise ValidationError(
            [
                FieldError(
                    "lines", gettext("a chosen line is no longer offered: check the lines again")
                )
            ]
        )
    unwanted = [row for key, row in rows.items() if key in keys]
    packages = {row.id for row in unwanted if isinstance(row, JobLine)}
    unwanted += [charge.row for charge in lines if charge.row.package_id in packages]
    begun = [row for row in pricing.steps(unwanted) if row.state is not OperationState.PLANNED]
    if begun:
        states = ", ".join(f"{step.kind.name} ({translated(step.state)})" for step in begun)
        raise RuleError(
            gettext("{states}: only a step that is not begun can be declined", states=states)
        )
    return unwanted


def is_on_offer(row: Charged) -> bool:
    """True where a customer says yes or no to it; what is in a package goes with that."""
    return row.package_id is None and (isinstance(row, Operation) or row.is_charge)


def _in_log(row: Approval, unwanted: Sequence[Charged]) -> str:
    texts: list[Any] = [row.quote.title] if row.quote else []
    approved = gettext(
        "{total} with tax, by {person}, {how}",
        total=row.total,
        person=row.approved_by,
        how=translated(row.approved_how),
    )
    texts.append(approved)
    if unwanted:
        declined = ", ".join(row.title for row in unwanted)
        texts.append(gettext("declined: {steps}", steps=declined))
    return "; ".join(texts)
