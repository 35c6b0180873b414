"""Purchase orders: what was ordered of a supplier, and how much of it is still to come."""

from __future__ import annotations

from datetime import date, datetime
from decimal import ROUND_HALF_UP, Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Count,
    Id,
    Line,
    Moment,
    Name,
    Price,
    Thousandths,
    UtcDateTime,
    Versioned,
    Words,
    choice,
)
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.part import Part, StockMovement, Supplier
    from shopflow.models.person import User


HUNDREDTH = Decimal("0.01")


class OrderState(StrEnum):
    """State of a purchase order."""

    DRAFT = gettext_noop("draft")
    PLACED = gettext_noop("placed")
    CLOSED = gettext_noop("closed")
    """All is here, or the rest was cancelled."""

    CANCELLED = gettext_noop("cancelled")


class PurchaseOrder(Versioned, Base):
    """An order of parts; its lines stand once it is placed."""

    __tablename__ = "purchase_order"
    __table_args__ = (
        CheckConstraint("state = 'draft' OR state = 'cancelled' OR placed_at IS NOT NULL",
                        name="placed_at_some_time"),
    )  # fmt: skip

    id: Mapped[Id]
    number: Mapped[str] = mapped_column(String(20), unique=True)
    supplier_id: Mapped[int] = mapped_column(ForeignKey("supplier.id"), index=True)
    state: Mapped[OrderState] = mapped_column(choice(OrderState), default=OrderState.DRAFT)
    drafted_at: Mapped[Moment]
    placed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    placed_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    expected_on: Mapped[date | None] = mapped_column(Date)
    notes: Mapped[Words]
    """Printed on the order."""

    cancel_reason: Mapped[Line]

    supplier: Mapped[Supplier] = relationship()
    placed_by: Mapped[User | None] = relationship()
    lines: Mapped[list[PurchaseOrderLine]] = relationship(
        back_populates="order",
        cascade="all, delete-orphan",
        order_by="PurchaseOrderLine.position",
    )

    @property
    def is_draft(self) -> bool:
        """True while its lines can be changed."""
        return self.state is OrderState.DRAFT

    @property
    def is_placed(self) -> bool:
        """True where it is at the supplier, and something is still to come."""
        return self.state is OrderState.PLACED

    @property
    def total(self) -> Decimal:
        """Cost of its lines before tax, of those that have one."""
        return sum((line.amount or Decimal(0) for line in self.lines), Decimal(0))


class PurchaseOrderLine(Base):
    """A part on an order."""

    __tablename__ = "purchase_order_line"
    __table_args__ = (
        UniqueConstraint("order_id", "part_id"),
        CheckConstraint("quantity > 0", name="quantity_above_zero"),
        CheckConstraint("cancelled >= 0 AND cancelled <= quantity", name="cancelled_in_quantity"),
        CheckConstraint("cost >= 0", name="cost_not_negative"),
    )

    id: Mapped[Id]
    order_id: Mapped[int] = mapped_column(ForeignKey("purchase_order.id"), index=True)
    position: Mapped[int]
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    description: Mapped[Name]
    supplier_number: Mapped[Line]
    quantity: Mapped[Count]
    unit: Mapped[str] = mapped_column(String(20), default="")
    cost: Mapped[Price]
    """Agreed for one, before tax."""

    cancelled: Mapped[Decimal] = mapped_column(Thousandths, default=Decimal(0), server_default="0")
    """No longer to come."""

    order: Mapped[PurchaseOrder] = relationship(back_populates="lines")
    part: Mapped[Part] = relationship()
    receipts: Mapped[list[StockMovement]] = relationship(order_by="StockMovement.id", viewonly=True)

    @property
    def received(self) -> Decimal:
        """Quantity received on it."""
        return sum((receipt.change for receipt in self.receipts), Decimal(0))

    @property
    def outstanding(self) -> Decimal:
        """Quantity still to come."""
        return self.quantity - self.cancelled - self.received

    @property
    def amount(self) -> Decimal | None:
        """Quantity times cost; none where no cost is agreed."""
        if self.cost is None:
            return None
        return (self.quantity * self.cost).quantize(HUNDREDTH, ROUND_HALF_UP)
