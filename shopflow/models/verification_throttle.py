"""Codes of papers that were tried and are of none."""

from __future__ import annotations

from sqlalchemy import Index, String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Moment


class WrongCode(Base):
    """One wrong try, kept so that guessing can be slowed down whichever process it meets."""

    __tablename__ = "wrong_code"
    __table_args__ = (Index(None, "address", "at"), Index(None, "at"))

    id: Mapped[Id]
    address: Mapped[str] = mapped_column(String(45))
    at: Mapped[Moment]
