"""A flow test that is being taken: what was typed so far, kept value by value."""

from __future__ import annotations

import re
from typing import TYPE_CHECKING

from sqlalchemy import JSON, ForeignKey, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment
from shopflow.texts import gettext, ngettext, translated

_READING = re.compile(r"rows-[0-9]+-(first|second|third)")

if TYPE_CHECKING:
    from shopflow.models.job import Visit
    from shopflow.models.person import User


class Typed:
    """Fields of a flow test as typed, whether it is a draft or was discarded."""

    if TYPE_CHECKING:
        typed: Mapped[dict[str, str]]

    @property
    def side(self) -> str:
        """Side of the port as chosen, as "intake"; empty where none is."""
        side = self.typed.get("side", "")
        return side if side in ("intake", "exhaust") else ""

    @property
    def words(self) -> str:
        """The test in a few words, as "intake test, 10 readings"."""
        readings = ngettext("{num} reading", "{num} readings", self.reading_count)
        if not self.side:
            return gettext("test, {readings}", readings=readings)
        return gettext("{side} test, {readings}", side=translated(self.side), readings=readings)

    @property
    def reading_count(self) -> int:
        """Number of readings typed so far."""
        return sum(
            1 for name, text in self.typed.items() if _READING.fullmatch(name) and text.strip()
        )


class TestDraft(Typed, Base):
    """The entry of one flow test of a head, from the first value until it is a session."""

    __tablename__ = "open_test"

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), unique=True)
    key: Mapped[str] = mapped_column(String(40), unique=True)
    """Names this entry for good: what arrives late for one that is over is told so."""

    writer: Mapped[str] = mapped_column(String(40))
    """The page that last wrote; another one must have seen what it wrote."""

    count: Mapped[int]
    """Number of times it was saved."""

    typed: Mapped[dict[str, str]] = mapped_column(JSON)
    """Every field of the form as typed."""

    begun_at: Mapped[Moment]
    kept_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship()
    person: Mapped[User | None] = relationship()
