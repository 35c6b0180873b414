"""Readings that a program took at a bench, with the raw samples they are made of."""

from __future__ import annotations

from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment

if TYPE_CHECKING:
    from shopflow.models.api_token import ApiToken
    from shopflow.models.bench import Bench
    from shopflow.models.job import Visit


class Capture(Base):
    """One reading of a flow test as instruments gave it; it is never changed."""

    __tablename__ = "capture"
    __table_args__ = (CheckConstraint("entry_key <> ''", name="of_a_test"),)

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    entry_key: Mapped[str] = mapped_column(String(40), index=True)
    """Key of the draft it was taken for, and of the test that became of that."""

    bench_id: Mapped[int | None] = mapped_column(ForeignKey("bench.id"))
    token_id: Mapped[int | None] = mapped_column(ForeignKey("api_token.id"))
    taken_at: Mapped[Moment]
    received_at: Mapped[Moment]
    lift: Mapped[str] = mapped_column(String(60))
    """As the program sent it, with its unit."""

    cells: Mapped[dict[str, str]] = mapped_column(JSON)
    """The fields of the draft that it filled in, as the form names them."""

    channels: Mapped[list[dict[str, Any]]] = mapped_column(JSON)
    """Of each quantity its name, instrument, unit, mean, sd, n and samples."""

    doubts: Mapped[list[str]] = mapped_column(JSON, default=list)
    """Warnings of the program about this reading."""

    job_head: Mapped[Visit] = relationship()
    bench: Mapped[Bench | None] = relationship()
    token: Mapped[ApiToken | None] = relationship()
