"""Approvals: the work a customer agreed to, line by line, at which price, and the work declined."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import CheckConstraint, Connection, ForeignKey, event
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Amount, Base, Id, Moment, Name
from shopflow.models.document_line import DocumentLine, of_one
from shopflow.texts import gettext

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User
    from shopflow.models.quote import Quote


class Approval(Base):
    """One agreement of a customer, to a quote or to the work as planned; never changed."""

    __tablename__ = "approval"
    __table_args__ = (CheckConstraint("approved_by <> ''", name="by_someone"),)

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    quote_id: Mapped[int | None] = mapped_column(ForeignKey("quote.id"), unique=True)
    at: Mapped[Moment]
    approved_by: Mapped[Name]
    approved_how: Mapped[Name]
    recorded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    total: Mapped[Amount]
    """Sum of the approved lines, with tax."""

    job: Mapped[Job] = relationship()
    quote: Mapped[Quote | None] = relationship()
    recorded_by: Mapped[User | None] = relationship()
    lines: Mapped[list[ApprovalLine]] = relationship(order_by="ApprovalLine.position")


class ApprovalLine(DocumentLine, Base):
    """A step or line offered, at the price offered, approved or declined."""

    __tablename__ = "approval_line"
    __table_args__ = of_one("approval")

    approval_id: Mapped[int] = mapped_column(ForeignKey("approval.id"), primary_key=True)
    declined: Mapped[bool] = mapped_column(default=False)


@event.listens_for(Approval, "before_update")
@event.listens_for(Approval, "before_delete")
@event.listens_for(ApprovalLine, "before_update")
@event.listens_for(ApprovalLine, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(gettext("a recorded approval cannot be changed; record another one"))
