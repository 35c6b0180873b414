"""Stock movements: each is added after the part's last one, and leaves no less than nothing."""

from __future__ import annotations

from collections.abc import Collection
from decimal import Decimal

from sqlalchemy import func, select
from sqlalchemy.orm import Session, aliased, selectinload

from shopflow.errors import FieldError, RuleError, ValidationError
from shopflow.models import (
    Job,
    JobLine,
    MovementKind,
    Part,
    PurchaseOrderLine,
    StockMovement,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.texts import gettext

_LATER = aliased(StockMovement)
ON_HAND = (
    select(StockMovement.on_hand)
    .where(StockMovement.part_id == Part.id)
    .order_by(StockMovement.sequence.desc())
    .limit(1)
    .correlate(Part)
    .scalar_subquery()
)
"""Stock of the part of a query: none before its first movement."""


def on_hand(db: Session, part: Part) -> Decimal:
    """Stock of a part."""
    last = _last(db, part)
    return last.on_hand if last else Decimal(0)


def levels(db: Session, parts: Collection[int]) -> dict[int, Decimal]:
    """Stock of these parts by their keys."""
    query = select(StockMovement.part_id, func.sum(StockMovement.change)).where(
        StockMovement.part_id.in_(sorted(parts))
    )
    stock = dict(db.execute(query.group_by(StockMovement.part_id)).all()) if parts else {}
    return {key: stock.get(key, Decimal(0)) for key in parts}


def fitted_on(db: Session, lines: Collection[int]) -> dict[int, Decimal]:
    """Quantity fitted on these lines of jobs, less what was put back."""
    query = (
        select(StockMovement.job_line_id, -func.sum(StockMovement.change))
        .where(StockMovement.job_line_id.in_(sorted(lines)))
        .group_by(StockMovement.job_line_id)
    )
    fitted = dict(db.execute(query).all()) if lines else {}
    return {key: fitted.get(key, Decimal(0)) for key in lines}


def movements(db: Session, part: Part, limit: int = 100) -> list[StockMovement]:
    """A part's movements, the latest first."""
    query = (
        select(StockMovement)
        .where(StockMovement.part_id == part.id)
        .order_by(StockMovement.sequence.desc())
        .limit(limit)
        .options(
            selectinload(StockMovement.person),
            selectinload(StockMovement.job_line).selectinload(JobLine.job),
            selectinload(StockMovement.job_line).selectinload(JobLine.job_head),
            selectinload(StockMovement.order_line).selectinload(PurchaseOrderLine.order),
        )
    )
    return list(db.scalars(query))


def receive(
    db: Session,
    by: Actor,
    part: Part,
    quantity: Decimal,
    *,
    order_line: PurchaseOrderLine | None = None,
    why: str = "",
) -> StockMovement:
    """Put parts that came in on the shelf."""
    return _move(db, by, part, MovementKind.RECEIVED, quantity, order_line=order_line, why=why)


def fit(db: Session, by: Actor, part: Part, line: JobLine, quantity: Decimal) -> StockMovement:
    """Take parts off the shelf for a line of a job. Raises RuleError where too few lie there."""
    return _move(db, by, part, MovementKind.FITTED, -quantity, line=line)


def put_back(db: Session, by: Actor, part: Part, line: JobLine, quantity: Decimal) -> StockMovement:
    """Put parts of a line of a job back on the shelf."""
    return _move(db, by, part, MovementKind.RETURNED, quantity, line=line)


def count(db: Session, by: Actor, part: Part, counted: Decimal, why: str = "") -> StockMovement:
    """Set the stock to what was counted; a count that agrees is on record too."""
    lock(db, part)
    return _move(db, by, part, MovementKind.COUNTED, counted - on_hand(db, part), why=why)


def correct(db: Session, by: Actor, part: Part, change: Decimal, why: str) -> StockMovement:
    """Add to the stock or take from it, with the reason. Raises ValidationError, RuleError."""
    faults = []
    if not change:
        faults.append(FieldError("change", gettext("enter a number above 0, or below 0")))
    if not why:
        faults.append(FieldError("why", gettext("required: enter a value")))
    if faults:
        raise ValidationError(faults)
    return _move(db, by, part, MovementKind.CORRECTED, change, why=why)


def lock(db: Session, part: Part) -> None:
    """Let nobody else move this part until we are done (SQLite has one writer anyhow)."""
    db.execute(select(Part.id).where(Part.id == part.id).with_for_update())


def _last(db: Session, part: Part) -> StockMovement | None:
    query = select(StockMovement).where(StockMovement.part_id == part.id)
    return db.scalars(query.order_by(StockMovement.sequence.desc()).limit(1)).one_or_none()


def _move(
    db: Session,
    by: Actor,
    part: Part,
    kind: MovementKind,
    change: Decimal,
    *,
    line: JobLine | None = None,
    order_line: PurchaseOrderLine | None = None,
    why: str = "",
) -> StockMovement:
    lock(db, part)
    last = _last(db, part)
    before = last.on_hand if last else Decimal(0)
    if before + change < 0:
        raise RuleError(
            gettext(
                "{on_hand} of {part} in stock, {wanted} wanted: receive some or count the stock",
                on_hand=before,
                part=part.title,
                wanted=-change,
            )
        )
    row = StockMovement(
        part=part,
        sequence=(last.sequence if last else 0) + 1,
        kind=kind,
        change=change,
        on_hand=before + change,
        why=why,
        at=by.at,
        person_id=by.person_id,
        job_line=line,
        order_line=order_line,
    )
    db.add(row)
    job: Job | None = line.job if line else None
    note = f"{part.title}: {abs(change) if line else f'{change:+f}'}"
    audit_log.record(db, by, row, kind.value, job=job, note=audit_log.noted(note, why))
    return row
