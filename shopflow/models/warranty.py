"""Warranty returns: a job that is there because of an earlier one."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Versioned, Words, choice
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.job import Job


class Bearer(StrEnum):
    """Party that pays for a return."""

    UNDECIDED = gettext_noop("not decided yet")
    SHOP = gettext_noop("the shop")
    CUSTOMER = gettext_noop("the customer")
    SHARED = gettext_noop("shared")


class WarrantyReturn(Versioned, Base):
    """Ties a job to the one it returns from."""

    __tablename__ = "warranty_return"
    __table_args__ = (
        CheckConstraint("reason <> ''", name="has_reason"),
        CheckConstraint("job_id <> from_job_id", name="of_another_job"),
    )

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), unique=True)
    from_job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    reason: Mapped[Words]
    borne_by: Mapped[Bearer] = mapped_column(choice(Bearer), default=Bearer.UNDECIDED)

    job: Mapped[Job] = relationship(foreign_keys=[job_id], back_populates="return_of")
    from_job: Mapped[Job] = relationship(foreign_keys=[from_job_id], back_populates="returns")
