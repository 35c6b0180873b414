"""Lists of lifts that the shop tests at, saved to be set in one go."""

from __future__ import annotations

from sqlalchemy import JSON, String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Versioned


class LiftList(Versioned, Base):
    """Lifts by a name, as "Small valves, every 0.050 in"."""

    __tablename__ = "lift_list"

    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(200), unique=True)
    unit: Mapped[str] = mapped_column(String(10))
    lifts: Mapped[list[str]] = mapped_column(JSON)
    """As typed, rising."""
