"""Forms that were sent and saved, so that a repeat is answered with the first result."""

from __future__ import annotations

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Moment, Words


class IdempotencyKey(Base):
    """The one-time key of a form that was saved, and the address it led to."""

    __tablename__ = "idempotency_key"
    __table_args__ = (UniqueConstraint("person_id", "key_sha256"), Index(None, "at"))

    id: Mapped[Id]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    key_sha256: Mapped[str] = mapped_column(String(64))
    """SHA-256 of the form's address and its key: two forms on one page may share a key."""

    content_sha256: Mapped[str] = mapped_column(String(64))
    """SHA-256 of what was typed: the same key with other content is not a repeat."""

    address: Mapped[Words]
    """Address that the first answer led to."""

    at: Mapped[Moment]
