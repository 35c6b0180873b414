"""Reports: jobs in and out, promises kept, hours planned and worked, and revenue."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field
from datetime import date, datetime
from decimal import Decimal
from statistics import median
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.documents.money import percent
from shopflow.models import (
    AccountRole,
    Event,
    Invoice,
    InvoiceKind,
    Job,
    JobState,
    LedgerEntry,
    Operation,
    OperationKind,
    OperationState,
    Payment,
    Posting,
)
from shopflow.services.shop.house_style import the_style
from shopflow.services.shop.periods import Period
from shopflow.texts import gettext, translated

GONE = (JobState.COLLECTED, JobState.SHIPPED)


@dataclass
class Passed:
    """Jobs of a month: booked in, gone out to their customers, cancelled."""

    month: date
    booked_in: int = 0
    gone_out: int = 0
    cancelled: int = 0


@dataclass
class Turnaround:
    """Jobs that went out in a month: days in the shop, and days late against the promise.

    A job is done on the day it last became ready; where nobody said so, on the day it went out.
    Days early are negative.
    """

    month: date | None
    days: list[int] = field(default_factory=list)
    late: list[int] = field(default_factory=list)
    """Of those with a promise."""

    @property
    def on_time(self) -> int:
        """Number of promises kept."""
        return sum(days <= 0 for days in self.late)

    @property
    def share(self) -> float | None:
        """Of the promises, the share kept; none where nothing was promised."""
        return self.on_time / len(self.late) if self.late else None

    @property
    def usual_days(self) -> float | None:
        """Median of the days in the shop."""
        return median(self.days) if self.days else None

    @property
    def usual_late(self) -> float | None:
        """Median of the days late."""
        return median(self.late) if self.late else None

    @property
    def latest(self) -> int | None:
        """The greatest of the days late."""
        return max(self.late, default=None)


@dataclass
class Worked:
    """Steps of a kind signed off: minutes planned and worked of those whose time was written."""

    kind: str
    steps: int = 0
    timed: int = 0
    planned: int = 0
    actual: int = 0


@dataclass
class Revenue:
    """A month's invoices and credit notes before tax."""

    month: date
    invoices: int = 0
    invoiced: Decimal = Decimal("0.00")
    credited: Decimal = Decimal("0.00")

    @property
    def net(self) -> Decimal:
        """Invoiced, less credits."""
        return self.invoiced - self.credited


@dataclass(frozen=True)
class Takings:
    """Money received on a day in one way, less what was paid back."""

    day: date
    method: str
    payments: int
    amount: Decimal


@dataclass
class TaxOfMonth:
    """A month's invoices less credit notes under one tax."""

    month: date
    name: str
    net: Decimal = Decimal("0.00")
    tax: Decimal = Decimal("0.00")


def jobs_by_month(db: Session, period: Period) -> list[Passed]:
    """Jobs booked in, gone out and cancelled in each month."""
    by_month = {month: Passed(month) for month in period.months}
    booked_in = select(Job.booked_in_at).where(Job.state != JobState.DEVELOPMENT)
    for moment in db.scalars(_within(booked_in, Job.booked_in_at, period)):
        by_month[period.month(moment)].booked_in += 1
    query = _within(select(Job.closed_at, Job.state), Job.closed_at, period)
    for closed_at, state in db.execute(query):
        month = by_month[period.month(closed_at)]
        if state in GONE:
            month.gone_out += 1
        elif state is JobState.CANCELLED:
            month.cancelled += 1
    return list(by_month.values())


def turnaround(db: Session, period: Period) -> list[Turnaround]:
    """Days in the shop and against the promise, by the month jobs went out, the total last."""
    query = _within(select(Job).where(Job.state.in_(GONE)), Job.closed_at, period)
    jobs = db.scalars(query).all()
    ready = _ready(db, [job.id for job in jobs])
    by_month = {month: Turnaround(month) for month in period.months}
    total = Turnaround(None)
    for job in jobs:
        assert job.closed_at is not None
        done = period.day(ready.get(job.id, job.closed_at))
        for row in (by_month[period.month(job.closed_at)], total):
            row.days.append((done - period.day(job.booked_in_at)).days)
            if job.promised_on:
                row.late.append((done - job.promised_on).days)
    return [*by_month.values(), total]


def hours_by_kind(db: Session, period: Period) -> list[Worked]:
    """Steps signed off, their planned and actual minutes, the kind with most work first."""
    query = _within(
        select(OperationKind.name, Operation.planned_minutes, Operation.actual_minutes)
        .join(Operation.kind)
        .where(Operation.state == OperationState.DONE),
        Operation.signed_off_at,
        period,
    )
    by_kind: dict[str, Worked] = {}
    for name, planned, actual in db.execute(query):
        row = by_kind.setdefault(name, Worked(name))
        row.steps += 1
        if actual is not None:
            row.timed += 1
            row.planned += planned
            row.actual += actual
    return sorted(by_kind.values(), key=lambda row: (-row.actual, row.kind))


def revenue_by_month(db: Session, period: Period) -> list[Revenue]:
    """Amounts invoiced less amounts credited in each month, before tax."""
    query = _within(
        select(Invoice.issued_at, Invoice.kind, Invoice.total, Invoice.tax),
        Invoice.issued_at,
        period,
    )
    by_month = {month: Revenue(month) for month in period.months}
    for issued_at, kind, total, tax in db.execute(query):
        row = by_month[period.month(issued_at)]
        if kind is InvoiceKind.CREDIT_NOTE:
            row.credited += total - tax
        else:
            row.invoices += 1
            row.invoiced += total - tax
    return list(by_month.values())


def takings_by_day(db: Session, period: Period) -> list[Takings]:
    """Money received on each day in each way, deposits included, less what was paid back."""
    way = func.min(Payment.method)
    posted = func.sum(-LedgerEntry.amount)
    query = (
        select(LedgerEntry.on, way, func.count(), posted)
        .join(LedgerEntry.payment)
        .where(LedgerEntry.on >= period.first, LedgerEntry.on <= period.last)
        .group_by(LedgerEntry.on, func.lower(func.trim(Payment.method)))
        .order_by(LedgerEntry.on, way)
    )
    return [Takings(*row) for row in db.execute(query)]


def tax_by_month(db: Session, period: Period) -> list[TaxOfMonth]:
    """Tax of invoices less that of credit notes in each month they were issued in, by rate."""
    query = (
        select(LedgerEntry.on, Posting.tax_code, Posting.tax_rate, Posting.tax_base,
               Posting.amount)
        .join(LedgerEntry.postings)
        .where(Posting.role == AccountRole.TAX)
        .where(LedgerEntry.on >= period.first, LedgerEntry.on <= period.last)
    )  # fmt: skip
    label = translated(the_style(db).tax_label)
    rows: dict[tuple[date, str], TaxOfMonth] = {}
    for on, code, rate, base, amount in db.execute(query):
        is_exempt = code not in ("S", "Z")
        name = (
            gettext("{label}, exempt", label=label)
            if is_exempt
            else f"{label} {percent(rate or Decimal(0))}"
        )
        key = on.replace(day=1), name
        row = rows.setdefault(key, TaxOfMonth(*key))
        row.net -= base or 0
        row.tax -= amount
    return [rows[key] for key in sorted(rows)]


def _ready(db: Session, jobs: Sequence[int]) -> dict[int, datetime]:
    """Time at which these jobs last became ready; a return from the customer does not count."""
    query = (
        select(Event.job_id, Event.at, Event.changes)
        .where(Event.job_id.in_(jobs), Event.subject == "job", Event.verb == "moved")
        .order_by(Event.at, Event.id)
    )
    changes: dict[int, list[tuple[datetime, list[str]]]] = defaultdict(list)
    for key, at, changed in db.execute(query):
        changes[key].append((at, changed.get("state", ["", ""])))
    return {key: at for key, moves in changes.items() for at, step in moves if _became_ready(step)}


def _became_ready(step: Iterable[str]) -> bool:
    before, after = step
    return after == JobState.READY and before not in GONE


def _within(query: Any, moment: Any, period: Period) -> Any:
    """The query, narrowed to moments of the period."""
    return query.where(moment >= period.begins, moment < period.ends)
