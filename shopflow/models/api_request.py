"""Requests of programs that wrote something, so that a repeat is answered alike."""

from __future__ import annotations

from sqlalchemy import ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Moment, Words


class ApiRequest(Base):
    """The Idempotency-Key of a request that was carried out, and its answer."""

    __tablename__ = "api_request"
    __table_args__ = (UniqueConstraint("token_id", "key_sha256"), Index(None, "at"))

    id: Mapped[Id]
    token_id: Mapped[int] = mapped_column(ForeignKey("api_token.id"))
    key_sha256: Mapped[str] = mapped_column(String(64))
    content_sha256: Mapped[str] = mapped_column(String(64))
    """SHA-256 of the address and the body: the same key with another body is no repeat."""

    status: Mapped[int]
    location: Mapped[Words]
    answer: Mapped[Words]
    """Its JSON."""

    at: Mapped[Moment]
