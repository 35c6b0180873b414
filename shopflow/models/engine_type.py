"""Engine types, and the other names people call them by."""

from __future__ import annotations

from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Name, Versioned, Words, choice, quantity
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.head import Head


class Cooling(StrEnum):
    """Coolant of the engine: water or air."""

    WATER = "water"
    AIR = "air"


class EngineType(Versioned, Base):
    """A kind of engine, as the shop writes it."""

    __tablename__ = "engine_type"
    __table_args__ = (
        UniqueConstraint("builder", "family"),
        CheckConstraint("displacement_si > 0", name="displacement_positive"),
        CheckConstraint("bore_si > 0", name="bore_positive"),
        CheckConstraint("stroke_si > 0", name="stroke_positive"),
        CheckConstraint("cylinders >= 1", name="cylinders_counted"),
        CheckConstraint("valves_per_cylinder >= 2", name="valves_counted"),
    )

    id: Mapped[Id]
    builder: Mapped[Name]
    family: Mapped[Name]
    displacement: Mapped[Quantity | None] = quantity("displacement", optional=True)
    bore: Mapped[Quantity | None] = quantity("bore", optional=True)
    stroke: Mapped[Quantity | None] = quantity("stroke", optional=True)
    cylinders: Mapped[int]
    valves_per_cylinder: Mapped[int] = mapped_column(default=2)
    cooling: Mapped[Cooling] = mapped_column(choice(Cooling), default=Cooling.WATER)
    fuel: Mapped[Line]
    notes: Mapped[Words]

    aliases: Mapped[list[EngineAlias]] = relationship(
        back_populates="engine_type",
        cascade="all, delete-orphan",
        order_by="EngineAlias.name",
        lazy="selectin",
    )
    heads: Mapped[list[Head]] = relationship(back_populates="engine_type")

    @property
    def title(self) -> str:
        """Builder and family, as one writes it on a tag."""
        return f"{self.builder} {self.family}"


class EngineAlias(Base):
    """Another name for an engine type."""

    __tablename__ = "engine_alias"
    __table_args__ = (UniqueConstraint("engine_type_id", "name"),)

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    name: Mapped[str] = mapped_column(String(100))

    engine_type: Mapped[EngineType] = relationship(back_populates="aliases")
