"""Payments: what came in on a job, and what was paid back."""

from __future__ import annotations

from datetime import date
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Amount, Base, Id, Line, Moment, Name

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class Payment(Base):
    """Money received on a job; below zero where it was paid back or entered by mistake."""

    __tablename__ = "payment"
    __table_args__ = (CheckConstraint("amount <> 0", name="amount_not_zero"),)

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    received_on: Mapped[date] = mapped_column(Date)
    amount: Mapped[Amount]
    method: Mapped[Name]
    note: Mapped[Line]
    is_deposit: Mapped[bool] = mapped_column(default=False, server_default=false())
    """Taken before the work it is for."""

    recorded_at: Mapped[Moment]
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job: Mapped[Job] = relationship()
    recorded_by: Mapped[User | None] = relationship()
