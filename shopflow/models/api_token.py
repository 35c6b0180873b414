"""Tokens that let a program of the shop's read its records, or add to them."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Name, UtcDateTime
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.bench import Bench
    from shopflow.models.person import User


class Scope(StrEnum):
    """Part of the programming interface that a token opens."""

    READ = gettext_noop("read")
    MONEY = gettext_noop("money")
    MEASURE = gettext_noop("measure")
    BENCH = gettext_noop("bench")


class ApiToken(Base):
    """A named token; the secret itself is not kept."""

    __tablename__ = "api_token"
    __table_args__ = (
        CheckConstraint("expires_at > made_at", name="lasts"),
        CheckConstraint("name <> ''", name="name_given"),
        CheckConstraint("(bench_id IS NULL) = (scopes NOT LIKE '%bench%')", name="bench_of_scope"),
    )

    id: Mapped[Id]
    name: Mapped[Name]
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[Moment]
    made_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    expires_at: Mapped[Moment]
    revoked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    last_used_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    scopes: Mapped[str] = mapped_column(String(80), server_default="read money")
    """Words of what it opens, with a space between them."""

    bench_id: Mapped[int | None] = mapped_column(ForeignKey("bench.id"))
    """The one bench whose readings it may post."""

    made_by: Mapped[User | None] = relationship()
    bench: Mapped[Bench | None] = relationship()

    def opens(self, now: datetime) -> bool:
        """True where the token may be used at this moment."""
        return self.revoked_at is None and now < self.expires_at

    def allows(self, *scopes: Scope) -> bool:
        """True where it has one of these scopes."""
        return not {*self.scopes.split()}.isdisjoint(scopes)
