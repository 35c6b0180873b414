"""Codes that open the page on which a shop is set up."""

from __future__ import annotations

from sqlalchemy import String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Moment


class SetUpCode(Base):
    """A code printed at a start, kept as its hash until the shop is set up."""

    __tablename__ = "set_up_code"

    id: Mapped[Id]
    code_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    made_at: Mapped[Moment]
