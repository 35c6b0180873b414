"""Purchase orders: drafted from what is short, placed, received in parts, and cancelled."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from decimal import Decimal
from typing import Any

from sqlalchemy import bindparam, case, select
from sqlalchemy.orm import Session, selectinload

from shopflow.errors import FieldError, NotFoundError, RuleError, ValidationError
from shopflow.models import (
    OrderState,
    Part,
    PurchaseOrder,
    PurchaseOrderLine,
    StockMovement,
    Supplier,
)
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals
from shopflow.services.numbering import next_number
from shopflow.services.parts import catalog, needs, stock
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext, translated

SERIES = "PO"
SPECIFICATION: fields.Specification = {"expected_on": fields.day(), "notes": fields.words()}
LINE: fields.Specification = {
    "quantity": catalog.quantity(above_zero=False),
    "cost": fields.price(),
}
_LOADED = (
    selectinload(PurchaseOrder.supplier),
    selectinload(PurchaseOrder.lines).selectinload(PurchaseOrderLine.part),
    selectinload(PurchaseOrder.lines).selectinload(PurchaseOrderLine.receipts),
)


@dataclass(frozen=True, slots=True)
class Wanted:
    """A part to be ordered, and how much of it."""

    part: Part
    quantity: Decimal
    tags: tuple[str, ...]
    """Heads and jobs that need it; none where it is only low in stock."""

    is_approved: bool = True
    """False where the customer of one of them has not approved it."""


def get(db: Session, number: str) -> PurchaseOrder:
    """The order with this number. Raises NotFoundError."""
    query = select(PurchaseOrder).where(PurchaseOrder.number == number).options(*_LOADED)
    row = db.scalars(query).one_or_none()
    if row is None:
        raise NotFoundError(gettext("there is no purchase order {number}", number=number))
    return row


def get_line(db: Session, line_id: int) -> PurchaseOrderLine:
    """The line with this key. Raises NotFoundError."""
    row = db.get(PurchaseOrderLine, line_id)
    if row is None:
        raise NotFoundError(gettext("this line does not exist"))
    return row


def recent(db: Session, limit: int = 100) -> list[PurchaseOrder]:
    """Orders: those that something is to come on first, then the latest."""
    rank = case(
        (PurchaseOrder.state == OrderState.PLACED, 0),
        (PurchaseOrder.state == OrderState.DRAFT, 1),
        else_=2,
    )
    query = select(PurchaseOrder).order_by(rank, PurchaseOrder.id.desc()).limit(limit)
    return list(db.scalars(query.options(*_LOADED)))


def wanted(db: Session) -> dict[Supplier | None, list[Wanted]]:
    """Parts to order of each supplier: those that heads are short of, and those low in stock.

    A part low in stock is ordered up to twice the level at which it is.
    """
    short: defaultdict[Part, Decimal] = defaultdict(Decimal)
    tags: defaultdict[Part, list[str]] = defaultdict(list)
    needed = needs.short(db)
    approved = approvals.approved_prices_of(db, {need.line.job_id for need in needed})
    waiting: set[Part] = set()
    for need in needed:
        part, line = need.row.part, need.line
        if part is not None:
            short[part] += need.short
            tags[part].append(line.tag or line.job.number)
            if line.price is None or 0 < line.price > approved.get(line.key, Decimal(0)):
                waiting.add(part)
    low = catalog.low(db)
    coming = needs.outstanding(db, [row.part.id for row in low])
    for row in low:
        point = row.part.reorder_point or Decimal(0)
        fill = max(2 * point, Decimal(1)) - row.on_hand - coming[row.part.id]
        if row.on_hand + coming[row.part.id] <= point and fill > 0:
            short[row.part] += fill
    drafted = _drafted(db)
    groups: defaultdict[Supplier | None, list[Wanted]] = defaultdict(list)
    for part, quantity in sorted(short.items(), key=lambda item: item[0].name.lower()):
        left = quantity - drafted[part.id]
        if left > 0:
            of_part = tuple(dict.fromkeys(tags[part]))
            groups[part.supplier].append(Wanted(part, left, of_part, part not in waiting))
    return dict(groups)


def draft(
    db: Session, by: Actor, supplier: Supplier, parts: Sequence[Wanted] = ()
) -> PurchaseOrder:
    """Begin an order with these parts; it has its number from now on."""
    year = by.at.astimezone(zone(get_shop(db))).year
    order = PurchaseOrder(
        number=f"{SERIES}-{year}-{next_number(db, 'purchase order', year):04d}",
        supplier=supplier,
        drafted_at=by.at,
        lines=[],
    )
    for item in parts:
        _append(order, item.part, item.quantity)
    db.add(order)
    audit_log.record(db, by, order, "drafted", note=order.number)
    return order


def add_line(
    db: Session, by: Actor, order: PurchaseOrder, values: Mapping[str, Any]
) -> PurchaseOrderLine:
    """Add a part to a draft, or to its line where it has one. Raises ValidationError, RuleError."""
    _must_be(order, OrderState.DRAFT)
    reading = {"part_id": fields.count(), "quantity": catalog.quantity()}
    clean = fields.require(reading, values, "part_id", "quantity")
    part = db.get(Part, clean["part_id"] or 0)
    if part is None:
        raise ValidationError([FieldError("part_id", gettext("choose a part"))])
    same = next((line for line in order.lines if line.part_id == part.id), None)
    if same is not None:
        same.quantity += clean["quantity"]
    line = same or _append(order, part, clean["quantity"])
    audit_log.record(db, by, order, "changed", note=f"{order.number}: {part.title}")
    return line


def change(
    db: Session,
    by: Actor,
    order: PurchaseOrder,
    values: Mapping[str, Any],
    lines: Mapping[int, Mapping[str, Any]],
) -> PurchaseOrder:
    """Change a draft: its day and notes, and quantity and cost of its lines; 0 removes a line.

    Raises ValidationError at `quantity-KEY` or `cost-KEY` of a line; RuleError once it is placed.
    """
    _must_be(order, OrderState.DRAFT)
    clean = fields.read(SPECIFICATION, values)
    rows = {line.id: line for line in order.lines}
    reading = {
        f"{name}-{key}": reader
        for key in lines
        for name, reader in LINE.items()
        if key in rows and name in lines[key]
    }
    typed = {f"{name}-{key}": value for key, row in lines.items() for name, value in row.items()}
    read = fields.read(reading, typed)
    for name, value in read.items():
        field, _, key = name.partition("-")
        setattr(rows[int(key)], field, value)
    for line in [line for line in order.lines if not line.quantity]:
        order.lines.remove(line)
    audit_log.change(db, by, order, clean, note=order.number)
    return order


def issue(db: Session, by: Actor, order: PurchaseOrder) -> PurchaseOrder:
    """Place a draft: its lines stand from now on. Raises RuleError where it has none."""
    _must_be(order, OrderState.DRAFT)
    if not order.lines:
        raise RuleError(gettext("this order has no line: add a part first"))
    values = {"state": OrderState.PLACED, "placed_at": by.at, "placed_by_id": by.person_id}
    audit_log.change(db, by, order, values, verb="placed", note=order.number)
    return order


def receive(
    db: Session, by: Actor, order: PurchaseOrder, quantities: Mapping[int, Any] | None = None
) -> list[StockMovement]:
    """Put what came on the shelf: all that is to come, or these quantities by line.

    Raises ValidationError at `received-KEY` of a line, RuleError where nothing is to come.
    """
    lock(db, order)
    _must_be(order, OrderState.PLACED)
    rows = {line.id: line for line in order.lines}
    if quantities is None:
        came = {line.id: line.outstanding for line in order.lines}
    else:
        came = _read_received(rows, quantities)
    faults = [
        FieldError(
            f"received-{key}",
            gettext("no more than the {left} that is to come", left=rows[key].outstanding),
        )
        for key, quantity in came.items()
        if quantity > rows[key].outstanding
    ]
    if faults:
        raise ValidationError(faults)
    lines = sorted((rows[key] for key in came if came[key] > 0), key=lambda line: line.part_id)
    if not lines:
        raise RuleError(gettext("nothing received: enter a quantity for at least one line"))
    moved = [
        stock.receive(db, by, line.part, came[line.id], order_line=line, why=order.number)
        for line in lines
    ]
    _close_if_done(db, by, order)
    needs.settle_holds(db, by, [line.part_id for line in lines])
    return moved


def cancel_rest(db: Session, by: Actor, line: PurchaseOrderLine) -> PurchaseOrderLine:
    """Cancel what is still to come on a line. Raises RuleError where nothing is."""
    lock(db, line.order)
    _must_be(line.order, OrderState.PLACED)
    if line.outstanding <= 0:
        raise RuleError(gettext("nothing of this line is to come"))
    note = f"{line.order.number}: {line.outstanding} {line.description}"
    line.cancelled += line.outstanding
    audit_log.record(db, by, line.order, "changed", note=audit_log.noted(note, CANCELLED_REST))
    _close_if_done(db, by, line.order)
    return line


CANCELLED_REST = "back order cancelled"


def cancel(db: Session, by: Actor, order: PurchaseOrder, reason: str) -> PurchaseOrder:
    """Cancel an order of which nothing came. Raises ValidationError, RuleError."""
    lock(db, order)
    clean = fields.require({"cancel_reason": fields.text(required=True)},
                           {"cancel_reason": reason})  # fmt: skip
    if any(line.received for line in order.lines):
        raise RuleError(gettext("part of this order is here: cancel the back orders line by line"))
    if order.state not in (OrderState.DRAFT, OrderState.PLACED):
        _must_be(order, OrderState.PLACED)
    values = {"state": OrderState.CANCELLED, **clean}
    audit_log.change(db, by, order, values, verb="cancelled", note=order.number)
    return order


def lock(db: Session, order: PurchaseOrder) -> None:
    """Let nobody else receive or cancel this order until we are done, and see what was."""
    db.execute(select(PurchaseOrder.id).where(PurchaseOrder.id == order.id).with_for_update())
    db.refresh(order, ["state", "lines"])
    for line in order.lines:
        db.refresh(line, ["cancelled", "receipts"])


def expected(order: PurchaseOrder, today: date) -> str:
    """State of an order in words, with the word late where its day is past."""
    if order.is_placed and order.expected_on is not None and order.expected_on < today:
        return gettext("late")
    if order.is_placed and any(line.received for line in order.lines):
        return gettext("partly received")
    return translated(order.state)


def _drafted(db: Session) -> defaultdict[int, Decimal]:
    """Quantity of each part on drafts."""
    line = PurchaseOrderLine
    query = (
        select(line.part_id, line.quantity)
        .join(line.order)
        .where(PurchaseOrder.state == bindparam("state"))
    )
    quantities: defaultdict[int, Decimal] = defaultdict(Decimal)
    for part, quantity in db.execute(query, {"state": OrderState.DRAFT}):
        quantities[part] += quantity
    return quantities


def _append(order: PurchaseOrder, part: Part, quantity: Decimal) -> PurchaseOrderLine:
    line = PurchaseOrderLine(
        position=max((row.position for row in order.lines), default=0) + 1,
        part=part,
        part_id=part.id,
        description=part.name,
        supplier_number=part.supplier_number or part.number,
        quantity=quantity,
        unit=part.unit,
        cost=part.cost,
        cancelled=Decimal(0),
        receipts=[],
    )
    order.lines.append(line)
    return line


def _read_received(
    rows: Mapping[int, PurchaseOrderLine], quantities: Mapping[int, Any]
) -> dict[int, Decimal]:
    reader = catalog.quantity(required=False, above_zero=False)
    typed = {f"received-{key}": value for key, value in quantities.items() if key in rows}
    read = fields.read(dict.fromkeys(typed, reader), typed)
    return {int(name.partition("-")[2]): value or Decimal(0) for name, value in read.items()}


def _close_if_done(db: Session, by: Actor, order: PurchaseOrder) -> None:
    db.flush()
    for line in order.lines:
        db.refresh(line, ["receipts"])
    if all(line.outstanding <= 0 for line in order.lines):
        closed = {"state": OrderState.CLOSED}
        audit_log.change(db, by, order, closed, verb="closed", note=order.number)


def _must_be(order: PurchaseOrder, state: OrderState) -> None:
    if order.state is not state:
        raise RuleError(
            gettext(
                "order {number} is {state}: reload the page",
                number=order.number,
                state=translated(order.state),
            )
        )
