"""The log of who changed what, when, from what to what."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Words

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User


class Event(Base):
    """One change to one record."""

    __tablename__ = "event"
    __table_args__ = (Index(None, "subject", "subject_id"),)

    id: Mapped[Id]
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)
    subject: Mapped[str] = mapped_column(String(40))
    """Table of the record that changed."""

    subject_id: Mapped[int]
    verb: Mapped[str] = mapped_column(String(40))
    note: Mapped[Words]
    changes: Mapped[dict[str, Any]] = mapped_column(JSON, default=dict)
    """Field name to [before, after], as text."""

    person: Mapped[User | None] = relationship()
    job: Mapped[Job | None] = relationship()
