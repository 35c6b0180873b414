"""Jobs whose money is not settled: approved work to invoice, invoices to be paid."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.models import (
    DROPPED_STEP_STATES,
    Bearer,
    Invoice,
    Job,
    JobLine,
    LedgerEntry,
    LineState,
    Operation,
    OperationKind,
    Visit,
    WarrantyReturn,
)
from shopflow.services.billing import approvals
from shopflow.services.billing.balances import INVOICED_LINES, INVOICED_STEPS


@dataclass(frozen=True, slots=True)
class Unsettled:
    """Money of a job that somebody has to see to."""

    to_invoice: bool
    """True where approved work or an approved line with a price is on no invoice."""

    owes: bool
    """True where invoices exceed credit notes and payments."""


def of_jobs(db: Session, jobs: Collection[int]) -> dict[int, Unsettled]:
    """Unsettled money of these jobs by their keys, in four queries; none for no job."""
    if not jobs:
        return {}
    query = (
        select(LedgerEntry.job_id, func.sum(LedgerEntry.amount))
        .where(LedgerEntry.job_id.in_(jobs))
        .group_by(LedgerEntry.job_id)
    )
    balance = dict(db.execute(query).all())
    to_invoice = _to_invoice(db, jobs)
    return {job: Unsettled(job in to_invoice, balance.get(job, Decimal(0)) > 0) for job in jobs}


def _to_invoice(db: Session, jobs: Collection[int]) -> set[int]:
    """Those jobs that have approved work or lines with a price on no invoice."""
    invoiced = INVOICED_STEPS.where(Invoice.job_id.in_(jobs))
    steps = (
        select(
            Visit.job_id, Operation.id, Operation.price, OperationKind.cuts_metal,
            Operation.again_because,
        )
        .join(Operation.job_head)
        .join(Operation.kind)
        .join(Visit.job)
        .outerjoin(Job.return_of)
        .where(
            Visit.job_id.in_(jobs),
            Operation.state.not_in(DROPPED_STEP_STATES),
            Operation.price > Decimal(0),
            Operation.id.not_in(invoiced),
            WarrantyReturn.borne_by.is_distinct_from(Bearer.SHOP),
        )
    )  # fmt: skip
    approved = approvals.approved_prices_of(db, jobs)
    return _of_lines(db, jobs, approved) | {
        job
        for job, key, price, cuts_metal, again_because in db.execute(steps)
        if approvals.covers(
            approved.get(str(key)),
            price,
            price,
            cuts_metal=cuts_metal,
            is_repeat=bool(again_because),
        )
    }


def _of_lines(db: Session, jobs: Collection[int], approved: approvals.Prices) -> set[int]:
    """Those jobs that have approved lines with a price on no invoice."""
    invoiced = INVOICED_LINES.where(Invoice.job_id.in_(jobs))
    query = (
        select(JobLine)
        .join(JobLine.job)
        .outerjoin(Job.return_of)
        .where(
            JobLine.job_id.in_(jobs),
            JobLine.state == LineState.CHARGED,
            JobLine.unit_price > Decimal(0),
            JobLine.id.not_in(invoiced),
            WarrantyReturn.borne_by.is_distinct_from(Bearer.SHOP),
        )
    )
    return {
        line.job_id for line in db.scalars(query)
        if line.is_charge and (line.price or 0) <= approved.get(line.key, Decimal(-1))
    }  # fmt: skip
