"""Parts that heads need: whether each is needed, ordered, here or fitted.

What lies on the shelf goes to the needs of open jobs in the order they were added, and so does what
is on order. A need is here when all that is left of it is.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from enum import StrEnum
from typing import Any

from sqlalchemy import Select, func, select
from sqlalchemy.orm import Session, contains_eager, selectinload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    Job,
    JobLine,
    LineKind,
    LineState,
    Operation,
    OrderState,
    Part,
    PartNeed,
    PurchaseOrder,
    PurchaseOrderLine,
    StockMovement,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.services.jobs import jobs
from shopflow.services.parts import catalog, part_holds, stock
from shopflow.texts import gettext, gettext_noop


class NeedState(StrEnum):
    """State of a part that a head needs."""

    NEEDED = gettext_noop("needed")
    ORDERED = gettext_noop("ordered")
    HERE = gettext_noop("here")
    FITTED = gettext_noop("fitted")


@dataclass(frozen=True, slots=True)
class Need:
    """A part that a head needs, and where it is."""

    row: PartNeed
    fitted: Decimal
    here: Decimal
    """On the shelf for it."""

    ordered: Decimal
    """On order for it."""

    @property
    def line(self) -> JobLine:
        """Its line on the job."""
        return self.row.line

    @property
    def left(self) -> Decimal:
        """Quantity still to be fitted."""
        return max(self.line.quantity - self.fitted, Decimal(0))

    @property
    def short(self) -> Decimal:
        """Quantity neither fitted, here nor on order."""
        return max(self.left - self.here - self.ordered, Decimal(0))

    @property
    def is_own(self) -> bool:
        """True where the customer brings it."""
        return self.row.is_customers_own

    @property
    def state(self) -> NeedState:
        """State of the whole quantity."""
        if self.left <= 0:
            return NeedState.FITTED
        if self.here >= self.left:
            return NeedState.HERE
        return NeedState.NEEDED if self.short else NeedState.ORDERED

    @property
    def is_missing(self) -> bool:
        """True where work waits for it."""
        return self.state in (NeedState.NEEDED, NeedState.ORDERED)


def get(db: Session, need_id: int) -> PartNeed:
    """The need with this key. Raises NotFoundError."""
    row = db.get(PartNeed, need_id)
    if row is None:
        raise NotFoundError(gettext("this part does not exist"))
    return row


def add(db: Session, by: Actor, job: Job, values: Mapping[str, Any]) -> PartNeed:
    """Add a part of the catalog, or one that the customer brings, to a job as a line.

    `part_id`, `is_customers_own`, `operation_id`; the rest as a line's. Raises ValidationError,
    RuleError.
    """
    rest = dict(values)
    own = bool(rest.pop("is_customers_own", False))
    step = _step(job, rest.pop("operation_id", None))
    part = _part(db, rest.pop("part_id", None), own=own)
    filled = {"unit_price": "0"} if part is None else catalog.as_line(part)
    typed = {name: value for name, value in rest.items() if value not in (None, "")}
    if step is not None:
        typed["head"] = step.job_head.tag
    line = job_lines.add(db, by, job, LineKind.PART, {**filled, **typed})
    row = PartNeed(line=line, part=part, operation=step, is_customers_own=own)
    db.add(row)
    db.flush()
    return row


def not_followed(job: Job) -> list[JobLine]:
    """Part lines of a job that were typed by hand, or came with a template."""
    return [
        line for line in job.lines
        if line.kind is LineKind.PART and line.counts and line.need is None
    ]  # fmt: skip


def follow(db: Session, by: Actor, line: JobLine) -> PartNeed:
    """Follow a line whose part number is in the catalog. Raises RuleError where it is not."""
    part = catalog.by_number(db, line.part_number) if line.part_number else None
    if line not in not_followed(line.job) or part is None:
        raise RuleError(gettext("the part number of this line is not in the catalog"))
    row = PartNeed(line=line, part=part)
    db.add(row)
    audit_log.record(db, by, row, "added", job=line.job, note=line.description)
    return row


def of_job(db: Session, job: Job) -> list[Need]:
    """The parts that a job needs, in the order of its lines."""
    rows = _rows(db, _COUNTING.where(JobLine.job_id == job.id))
    return _placed(db, rows)


def of_head(needs: Iterable[Need], tag: str) -> list[Need]:
    """Those of one head."""
    return [need for need in needs if need.line.tag == tag]


def of_part(db: Session, part: Part) -> list[Need]:
    """The needs of a part on open jobs, in the order they are served."""
    return _placed(db, _rows(db, _OPEN.where(PartNeed.part_id == part.id)))


def short(db: Session) -> list[Need]:
    """Needs of open jobs that are neither here nor on order in full."""
    rows = _rows(db, _OPEN.where(PartNeed.part_id.is_not(None)))
    return [need for need in _placed(db, rows) if need.short]


def fit(db: Session, by: Actor, row: PartNeed) -> None:
    """Fit all that is left of a part. Raises RuleError where it is not here, or fitted already.

    On a practice job no stock is taken.
    """
    _must_be_open(row)
    if row.part is None:
        if row.own_here_at is None:
            raise RuleError(gettext("this part is not here yet: mark it as here first"))
        if row.own_fitted_at is not None:
            raise RuleError(gettext("this part is fitted already"))
        _change(db, by, row, "fitted", own_fitted_at=by.at)
        return
    jobs.must_not_be_practice(row.line.job)
    stock.lock(db, row.part)
    left = row.line.quantity - stock.fitted_on(db, [row.job_line_id])[row.job_line_id]
    if left <= 0:
        raise RuleError(gettext("this part is fitted already"))
    stock.fit(db, by, row.part, row.line, left)


def put_back(db: Session, by: Actor, row: PartNeed) -> None:
    """Put back all that was fitted of a part. Raises RuleError where nothing was."""
    if row.part is None:
        if row.own_fitted_at is None:
            raise RuleError(gettext("nothing of this part is fitted"))
        _change(db, by, row, "returned", own_fitted_at=None)
        return
    stock.lock(db, row.part)
    fitted = stock.fitted_on(db, [row.job_line_id])[row.job_line_id]
    if fitted <= 0:
        raise RuleError(gettext("nothing of this part is fitted"))
    stock.put_back(db, by, row.part, row.line, fitted)
    settle_holds(db, by, [row.part.id])


def own_is_here(db: Session, by: Actor, row: PartNeed) -> None:
    """Say that a part the customer brings is here. Raises RuleError."""
    _must_be_open(row)
    if not row.is_customers_own or row.own_here_at is not None:
        raise RuleError(gettext("this part is here already"))
    _change(db, by, row, "received", own_here_at=by.at)
    part_holds.end_where_all_here(db, by, of_job(db, row.line.job))


def settle_holds(db: Session, by: Actor, parts: Collection[int]) -> None:
    """End the holds of heads that waited for these parts and now have all of theirs."""
    db.flush()
    query = _OPEN.where(PartNeed.part_id.in_(sorted(parts))).with_only_columns(JobLine.job_id)
    for key in sorted(set(db.scalars(query.order_by(None)))):
        job = db.get_one(Job, key)
        part_holds.end_where_all_here(db, by, of_job(db, job))


_COUNTING: Select[PartNeed] = (
    select(PartNeed)
    .join(PartNeed.line)
    .join(JobLine.job)
    .where(JobLine.state == LineState.CHARGED)
    .order_by(JobLine.id)
)
_OPEN = _COUNTING.where(Job.closed_at.is_(None), Job.is_practice.is_(False))


def _rows(db: Session, query: Select[PartNeed]) -> Sequence[PartNeed]:
    loaded = query.options(
        contains_eager(PartNeed.line).contains_eager(JobLine.job),
        contains_eager(PartNeed.line).selectinload(JobLine.job_head),
        selectinload(PartNeed.part),
        selectinload(PartNeed.operation).selectinload(Operation.kind),
    )
    return db.scalars(loaded).all()


def _placed(db: Session, rows: Sequence[PartNeed]) -> list[Need]:
    """Each need with what is fitted, here and ordered for it."""
    parts = {row.part_id for row in rows if row.part_id is not None}
    supply = _supply(db, parts) if parts else {}
    fitted = stock.fitted_on(db, [row.job_line_id for row in rows])
    return [_own(row) if row.part_id is None else
            Need(row, fitted[row.job_line_id], *supply.get(row.id, (Decimal(0), Decimal(0))))
            for row in rows]  # fmt: skip


def _own(row: PartNeed) -> Need:
    quantity, none = row.line.quantity, Decimal(0)
    is_fitted, is_here = row.own_fitted_at is not None, row.own_here_at is not None
    return Need(
        row, fitted=quantity if is_fitted else none, here=quantity if is_here else none,
        ordered=none if is_here else quantity,
    )  # fmt: skip


def _supply(db: Session, parts: set[int]) -> dict[int, tuple[Decimal, Decimal]]:
    """Quantity here and on order for each need of these parts on open jobs."""
    on_shelf, on_order = stock.levels(db, parts), outstanding(db, parts)
    query = _OPEN.where(PartNeed.part_id.in_(sorted(parts))).with_only_columns(
        PartNeed.id, PartNeed.part_id, PartNeed.job_line_id, JobLine.quantity
    )
    rows = db.execute(query).all()
    fitted = stock.fitted_on(db, [row.job_line_id for row in rows])
    supply = {}
    for row in rows:
        left = max(row.quantity - fitted[row.job_line_id], Decimal(0))
        here = min(left, on_shelf[row.part_id])
        on_shelf[row.part_id] -= here
        ordered = min(left - here, on_order[row.part_id])
        on_order[row.part_id] -= ordered
        supply[row.id] = (here, ordered)
    return supply


def outstanding(db: Session, parts: Collection[int]) -> defaultdict[int, Decimal]:
    """Quantity of these parts on orders that were placed, and is still to come."""
    line = PurchaseOrderLine
    received = (
        select(func.coalesce(func.sum(StockMovement.change), Decimal(0)))
        .where(StockMovement.order_line_id == line.id)
        .correlate(line)
        .scalar_subquery()
    )
    query = (
        select(line.part_id, line.quantity, line.cancelled, received)
        .join(line.order)
        .where(PurchaseOrder.state == OrderState.PLACED, line.part_id.in_(sorted(parts)))
    )
    coming: defaultdict[int, Decimal] = defaultdict(Decimal)
    for part, quantity, cancelled, came in db.execute(query):
        coming[part] += quantity - cancelled - came
    return coming


def _part(db: Session, value: Any, *, own: bool) -> Part | None:
    chosen = value not in (None, "", 0)
    if own and chosen:
        message = gettext("leave this blank for a part that the customer brings")
        raise ValidationError([FieldError("part_id", message)])
    if own:
        return None
    part = db.get(Part, int(value)) if chosen and str(value).isdecimal() else None
    if part is None:
        raise ValidationError([FieldError("part_id", gettext("choose a part"))])
    return part


def _step(job: Job, value: Any) -> Operation | None:
    if value in (None, "", 0):
        return None
    steps = {str(step.id): step for visit in job.heads for step in visit.operations}
    if str(value) not in steps:
        raise ValidationError([FieldError("operation_id", gettext("choose a step"))])
    return steps[str(value)]


def _must_be_open(row: PartNeed) -> None:
    line = row.line
    if not line.job.is_open or not line.counts:
        raise RuleError(gettext("this part is not needed any more: its line or job is closed"))


def _change(db: Session, by: Actor, row: PartNeed, verb: str, **values: Any) -> None:
    line = row.line
    audit_log.change(db, by, row, values, job=line.job, verb=verb, note=line.description)
