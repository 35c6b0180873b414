"""A customer's private links to the state of a job."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, UtcDateTime

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


WHOLE, NO_CURVE, HIDDEN = "whole", "no curve", "hidden"
"""Parts of a certificate that a link may show."""


class CustomerLink(Base):
    """A link that opens one job's page to anyone who holds it; the secret itself is not kept."""

    __tablename__ = "customer_link"
    __table_args__ = (CheckConstraint("expires_at > made_at", name="lasts"),)

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    shows_prices: Mapped[bool] = mapped_column(default=False)
    held_back: Mapped[dict[str, str]] = mapped_column(JSON, default=dict)
    """Certificates it does not show whole, by number: NO_CURVE or HIDDEN."""

    made_at: Mapped[Moment]
    made_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    expires_at: Mapped[Moment]
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    openings: Mapped[int] = mapped_column(default=0)
    last_opened_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    job: Mapped[Job] = relationship(back_populates="links")
    made_by: Mapped[User | None] = relationship()

    def opens(self, now: datetime) -> bool:
        """True where the link opens the page at this moment."""
        return self.revoked_at is None and now < self.expires_at
