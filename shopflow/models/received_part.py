"""Loose parts that came in with a head, counted."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Name

if TYPE_CHECKING:
    from shopflow.models.job import Visit


class ReceivedPart(Base):
    """So many of one part, taken in with a head and given back at collection."""

    __tablename__ = "received_part"
    __table_args__ = (
        CheckConstraint("count > 0", name="count_positive"),
        CheckConstraint("name <> ''", name="named"),
        UniqueConstraint("job_head_id", "name"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"))
    position: Mapped[int]
    name: Mapped[Name]
    count: Mapped[int]

    job_head: Mapped[Visit] = relationship(back_populates="parts")
