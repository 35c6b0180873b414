"""Engine types, and the other names people call them by."""

from __future__ import annotations

from enum import StrEnum
from functools import lru_cache
from typing import TYPE_CHECKING

from sqlalchemy import JSON, CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Name, Versioned, Words, choice, quantity
from shopflow.models.places import SIDES, HeadPlan, read_numbers, read_ports
from shopflow.texts import gettext_noop, language
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.head import Head


class Cooling(StrEnum):
    """Coolant of the engine: water or air."""

    WATER = gettext_noop("water")
    AIR = gettext_noop("air")


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
        CheckConstraint(
            "cylinders_per_head >= 1 AND cylinders_per_head <= cylinders",
            name="head_cylinders_counted",
        ),
    )

    id: Mapped[Id]
    builder: Mapped[Name]
    family: Mapped[Name]
    displacement: Mapped[Quantity | None] = quantity("displacement", optional=True)
    bore: Mapped[Quantity | None] = quantity("bore", optional=True)
    stroke: Mapped[Quantity | None] = quantity("stroke", optional=True)
    cylinders: Mapped[int]
    valves_per_cylinder: Mapped[int] = mapped_column(default=2)
    cylinders_per_head: Mapped[int | None]
    """Blank while the layout of its heads is not recorded."""

    intake_valves: Mapped[list[str]] = mapped_column(JSON, default=list, server_default="[]")
    exhaust_valves: Mapped[list[str]] = mapped_column(JSON, default=list, server_default="[]")
    """Names of the valves of one cylinder, as "front" and "rear"; a single one is ""."""

    intake_ports: Mapped[Line] = mapped_column(server_default="")
    exhaust_ports: Mapped[Line] = mapped_column(server_default="")
    """Cylinders of a head by port, as "1, 2+3, 4"; empty for a port per cylinder."""

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

    def valve_names(self, side: str) -> list[str]:
        """Names of a cylinder's valves on a side; empty while they are not recorded."""
        return self.intake_valves if side == "intake" else self.exhaust_valves

    @property
    def named_valves(self) -> list[str]:
        """Names of all its valves, each once; empty where no valve needs a name."""
        return [name for name in dict.fromkeys(self.intake_valves + self.exhaust_valves) if name]

    def plan(self, numbers: str = "") -> HeadPlan | None:
        """Places of one of its heads; none while the layout is not recorded.

        `numbers` are the head's cylinders in the engine, where they do not run from 1.
        """
        if self.cylinders_per_head is None:
            return None
        valves = tuple(tuple(self.valve_names(side)) for side in SIDES)
        ports = self.intake_ports, self.exhaust_ports
        return _plan(self.cylinders_per_head, numbers, valves, ports, language())


@lru_cache(maxsize=256)
def _plan(
    count: int,
    numbers: str,
    valves: tuple[tuple[str, ...], ...],
    ports: tuple[str, ...],
    language: str,  # of the places' labels
) -> HeadPlan:
    """A layout's places, which every measurement of a head asks for. Nothing of it is changed."""
    counted = tuple(range(1, count + 1))
    cylinders = read_numbers(numbers) or counted
    numbered = (_numbered(read_ports(text, counted), cylinders) for text in ports)
    return HeadPlan(
        cylinders,
        dict(zip(SIDES, valves, strict=True)),
        dict(zip(SIDES, numbered, strict=True)),
    )


def _numbered(
    ports: tuple[tuple[int, ...], ...] | None, cylinders: tuple[int, ...]
) -> tuple[tuple[int, ...], ...] | None:
    """Ports by a head's own cylinder numbers, from ports counted along the head."""
    if ports is None:
        return None
    return tuple(tuple(cylinders[number - 1] for number in port) for port in ports)


class EngineAlias(Base):
    """Another name for an engine type."""

    __tablename__ = "engine_alias"
    __table_args__ = (UniqueConstraint("engine_type_id", "name"),)

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    name: Mapped[str] = mapped_column(String(100))

    engine_type: Mapped[EngineType] = relationship(back_populates="aliases")
