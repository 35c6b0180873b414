"""Parts that the shop buys and fits, who supplies them, and every movement of their stock."""

from __future__ import annotations

from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    CheckConstraint,
    Connection,
    ForeignKey,
    String,
    UniqueConstraint,
    event,
    true,
)
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import (
    Base,
    Count,
    Id,
    Line,
    Moment,
    Name,
    Price,
    Thousandths,
    Versioned,
    Words,
    choice,
)
from shopflow.models.tax_class import TaxClass
from shopflow.texts import gettext, gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job_line import JobLine
    from shopflow.models.person import User
    from shopflow.models.purchase_order import PurchaseOrderLine


class Supplier(Versioned, Base):
    """A supplier of parts, or a vendor of outside work."""

    __tablename__ = "supplier"
    __table_args__ = (CheckConstraint("name <> ''", name="named"),)

    id: Mapped[Id]
    name: Mapped[Name] = mapped_column(unique=True)
    contact: Mapped[Line]
    email: Mapped[Line]
    phone: Mapped[Line]
    address: Mapped[Words]
    account_number: Mapped[Line]
    """The shop's number in the supplier's books."""

    notes: Mapped[Words]
    active: Mapped[bool] = mapped_column(default=True, server_default=true())


class Part(Versioned, Base):
    """A part of the catalog; its stock is the last of its movements."""

    __tablename__ = "part"
    __table_args__ = (
        CheckConstraint("number <> '' AND name <> ''", name="named"),
        CheckConstraint("cost >= 0", name="cost_not_negative"),
        CheckConstraint("price >= 0", name="price_not_negative"),
        CheckConstraint("reorder_point >= 0", name="reorder_point_not_negative"),
    )

    id: Mapped[Id]
    number: Mapped[str] = mapped_column(String(60), unique=True)
    name: Mapped[Name]
    unit: Mapped[str] = mapped_column(String(20), default="")
    supplier_id: Mapped[int | None] = mapped_column(ForeignKey("supplier.id"), index=True)
    supplier_number: Mapped[Line]
    """The supplier's number of it."""

    cost: Mapped[Price]
    """Paid for one, before tax."""

    price: Mapped[Price]
    """Charged for one, before tax."""

    tax_class: Mapped[TaxClass] = mapped_column(choice(TaxClass), default=TaxClass.STANDARD)
    bin: Mapped[Line]
    """Shelf or drawer it lies in."""

    reorder_point: Mapped[Decimal | None] = mapped_column(Thousandths)
    """Stock at which more is ordered; none where it is not kept in stock."""

    notes: Mapped[Words]
    active: Mapped[bool] = mapped_column(default=True, server_default=true())

    supplier: Mapped[Supplier | None] = relationship()

    @property
    def title(self) -> str:
        """Its number and name."""
        return f"{self.number}, {self.name}"


class MovementKind(StrEnum):
    """Kind of a stock movement."""

    RECEIVED = gettext_noop("received")
    FITTED = gettext_noop("fitted")
    RETURNED = gettext_noop("returned")
    """Taken off a job again, and put back."""

    COUNTED = gettext_noop("counted")
    CORRECTED = gettext_noop("corrected")


class StockMovement(Base):
    """One change of a part's stock, and the stock after it; never changed afterwards.

    Each takes the next number of its part, so that of two writers at once one fails, and the stock
    after it cannot be below zero.
    """

    __tablename__ = "stock_movement"
    __table_args__ = (
        UniqueConstraint("part_id", "sequence"),
        CheckConstraint("sequence > 0", name="numbered"),
        CheckConstraint("on_hand >= 0", name="on_hand_not_negative"),
        CheckConstraint(
            "(kind IN ('received', 'returned') AND change > 0) OR (kind = 'fitted' AND change < 0)"
            " OR kind = 'counted' OR (kind = 'corrected' AND change <> 0)",
            name="change_of_kind",
        ),
        CheckConstraint("kind <> 'corrected' OR why <> ''", name="correction_has_reason"),
        CheckConstraint(
            "(kind IN ('fitted', 'returned')) = (job_line_id IS NOT NULL)", name="of_a_line"
        ),
        CheckConstraint("order_line_id IS NULL OR kind = 'received'", name="received_on_order"),
    )

    id: Mapped[Id]
    part_id: Mapped[int] = mapped_column(ForeignKey("part.id"), index=True)
    sequence: Mapped[int]
    """From 1, without a gap in each part."""

    kind: Mapped[MovementKind] = mapped_column(choice(MovementKind))
    change: Mapped[Count]
    on_hand: Mapped[Count]
    """Stock after it."""

    why: Mapped[Line]
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    job_line_id: Mapped[int | None] = mapped_column(ForeignKey("job_line.id"), index=True)
    order_line_id: Mapped[int | None] = mapped_column(
        ForeignKey("purchase_order_line.id"), index=True
    )

    part: Mapped[Part] = relationship()
    person: Mapped[User | None] = relationship()
    job_line: Mapped[JobLine | None] = relationship()
    order_line: Mapped[PurchaseOrderLine | None] = relationship()

    @property
    def signed_change(self) -> str:
        """The change with its sign, as "+8" or "-0.5"."""
        return f"{self.change:+f}"


@event.listens_for(StockMovement, "before_update")
@event.listens_for(StockMovement, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(gettext("a stock movement cannot be changed or deleted; correct the stock"))
