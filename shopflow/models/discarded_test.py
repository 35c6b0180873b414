"""A flow test that was being taken and was discarded; kept for some days, so that it can return."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import JSON, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment
from shopflow.models.test_draft import Typed

if TYPE_CHECKING:
    from shopflow.models.job import Visit
    from shopflow.models.person import User


class DiscardedTest(Typed, Base):
    """Typed fields of a flow test, as they were when somebody discarded it."""

    __tablename__ = "discarded_test"

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    key: Mapped[str] = mapped_column(String(40), unique=True)
    count: Mapped[int]
    typed: Mapped[dict[str, str]] = mapped_column(JSON)
    begun_at: Mapped[Moment]
    kept_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    discarded_at: Mapped[Moment]
    discarded_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship()
    person: Mapped[User | None] = relationship(foreign_keys=[person_id])
    discarded_by: Mapped[User | None] = relationship(foreign_keys=[discarded_by_id])
