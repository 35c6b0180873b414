"""Parts that the heads of a job need, and work on them that is done outside."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Money, UtcDateTime, Versioned

if TYPE_CHECKING:
    from shopflow.models.hold import Hold
    from shopflow.models.job_line import JobLine
    from shopflow.models.operation import Operation
    from shopflow.models.part import Part, Supplier


class PartNeed(Versioned, Base):
    """A part line of a job that is followed until it is fitted: from stock, or the customer's."""

    __tablename__ = "part_need"
    __table_args__ = (
        CheckConstraint("(part_id IS NULL) = is_customers_own", name="of_stock_or_customer"),
        CheckConstraint("own_here_at IS NULL OR is_customers_own", name="own_here"),
        CheckConstraint("own_fitted_at IS NULL OR own_here_at IS NOT NULL", name="own_fitted"),
    )

    id: Mapped[Id]
    job_line_id: Mapped[int] = mapped_column(ForeignKey("job_line.id"), unique=True)
    part_id: Mapped[int | None] = mapped_column(ForeignKey("part.id"), index=True)
    operation_id: Mapped[int | None] = mapped_column(ForeignKey("operation.id"), index=True)
    """The step that needs it; none where it is not said."""

    is_customers_own: Mapped[bool] = mapped_column(default=False, server_default=false())
    own_here_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    own_fitted_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    line: Mapped[JobLine] = relationship(back_populates="need")
    part: Mapped[Part | None] = relationship()
    operation: Mapped[Operation | None] = relationship()


class OutsideWork(Versioned, Base):
    """Work of a job's line at a vendor: sent, due, its cost, and back."""

    __tablename__ = "outside_work"
    __table_args__ = (
        CheckConstraint("due_on >= sent_on", name="due_after_sent"),
        CheckConstraint("back_on >= sent_on", name="back_after_sent"),
        CheckConstraint("cost >= 0", name="cost_not_negative"),
    )

    id: Mapped[Id]
    job_line_id: Mapped[int] = mapped_column(ForeignKey("job_line.id"), index=True)
    supplier_id: Mapped[int] = mapped_column(ForeignKey("supplier.id"), index=True)
    sent_on: Mapped[date] = mapped_column(Date)
    due_on: Mapped[date | None] = mapped_column(Date)
    cost: Mapped[Decimal | None] = mapped_column(Money)
    """The vendor's price before tax; none until it is told."""

    back_on: Mapped[date | None] = mapped_column(Date)
    wait_id: Mapped[int | None] = mapped_column(ForeignKey("wait.id"), index=True)
    """The hold that lasts until it is back."""

    line: Mapped[JobLine] = relationship()
    supplier: Mapped[Supplier] = relationship()
    hold: Mapped[Hold | None] = relationship()
