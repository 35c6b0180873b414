"""Quotes: frozen when they are given; only the customer's word is added afterwards."""

from __future__ import annotations

from datetime import date, datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Connection,
    Date,
    ForeignKey,
    LargeBinary,
    String,
    UniqueConstraint,
    event,
    inspect,
)
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Amount, Base, Id, Line, Moment, UtcDateTime
from shopflow.models.document_line import DocumentLine, of_one
from shopflow.texts import gettext

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User

APPROVAL = frozenset({"approved_at", "approved_by", "approved_how"})
"""All that may be written on a quote once it is given."""


class Quote(Base):
    """One revision of a job's quote, and the bytes the customer got."""

    __tablename__ = "quote"
    __table_args__ = (
        UniqueConstraint("number", "revision"),
        CheckConstraint("revision >= 1", name="revision_counted"),
        CheckConstraint("deposit >= 0", name="deposit_not_negative"),
        CheckConstraint("approved_at IS NULL OR approved_by <> ''", name="approval_by_someone"),
    )

    id: Mapped[Id]
    number: Mapped[str] = mapped_column(String(20))
    revision: Mapped[int]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    given_at: Mapped[Moment]
    given_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    valid_until: Mapped[date] = mapped_column(Date)
    deposit: Mapped[Amount]
    """Deposit asked before work starts."""

    total: Mapped[Amount]
    snapshot: Mapped[dict[str, Any]] = mapped_column(JSON)
    pdf: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
    sha256: Mapped[str] = mapped_column(String(64))

    approved_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    approved_by: Mapped[Line]
    approved_how: Mapped[Line]

    job: Mapped[Job] = relationship()
    given_by: Mapped[User | None] = relationship()
    lines: Mapped[list[QuoteLine]] = relationship(
        cascade="save-update, merge", order_by="QuoteLine.position", passive_deletes="all"
    )

    @property
    def title(self) -> str:
        """Number with its revision, as printed."""
        return (
            self.number
            if self.revision == 1
            else gettext("{number} revision {revision}", number=self.number, revision=self.revision)
        )


class QuoteLine(DocumentLine, Base):
    """A step or line offered, at the price offered."""

    __tablename__ = "quote_line"
    __table_args__ = of_one("quote")

    quote_id: Mapped[int] = mapped_column(ForeignKey("quote.id"), primary_key=True)
    extra: Mapped[bool]
    """True where it was no part of the quote approved before."""


@event.listens_for(Quote, "before_update")
def _only_the_approval(mapper: Mapper[Any], connection: Connection, quote: Quote) -> None:
    changed = {item.key for item in inspect(quote).attrs if item.history.has_changes()}
    if changed - APPROVAL:
        raise RuleError(gettext("a quote that was given cannot be changed; give a new revision"))


@event.listens_for(Quote, "before_delete")
@event.listens_for(QuoteLine, "before_update")
@event.listens_for(QuoteLine, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(gettext("a quote that was given cannot be changed; give a new revision"))
