"""Ranges behind forecasts of an engine's air and power: the shop's own, or one job's."""

from __future__ import annotations

from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, text
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Versioned, choice, quantity
from shopflow.models.job import Induction, Job
from shopflow.texts import gettext_noop
from shopflow.units import Quantity

OF_SHOP = text("job_id IS NULL")


class Fuel(StrEnum):
    """Fuel that an engine's air is burnt with."""

    GASOLINE = gettext_noop("gasoline")
    ETHANOL = gettext_noop("ethanol (E85)")
    METHANOL = gettext_noop("methanol")
    DIESEL = gettext_noop("diesel")


class EngineRanges(Versioned, Base):
    """Ranges of one fuel and induction in the whole shop, or of one job in their place.

    Each is two values as typed; those without a unit are numbers.
    """

    __tablename__ = "engine_ranges"
    __table_args__ = (
        CheckConstraint("index_low_si > 0 AND index_low_si <= index_high_si", name="index"),
        CheckConstraint("filling_low_si > 0 AND filling_low_si <= filling_high_si", name="filling"),
        CheckConstraint(
            "air_fuel_low_si > 0 AND air_fuel_low_si <= air_fuel_high_si", name="air_fuel"
        ),
        CheckConstraint(
            "consumption_low_si > 0 AND consumption_low_si <= consumption_high_si",
            name="consumption",
        ),
        CheckConstraint(
            "temperature_low_si > 0 AND temperature_low_si <= temperature_high_si",
            name="temperature",
        ),
        CheckConstraint(
            "pressure_low_si > 0 AND pressure_low_si <= pressure_high_si", name="pressure"
        ),
        Index(
            "uq_engine_ranges_of_shop",
            "fuel",
            "induction",
            unique=True,
            sqlite_where=OF_SHOP,
            postgresql_where=OF_SHOP,
        ),
    )

    id: Mapped[Id]
    job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), unique=True)
    fuel: Mapped[Fuel] = mapped_column(choice(Fuel))
    induction: Mapped[Induction] = mapped_column(choice(Induction))
    index_low: Mapped[Quantity] = quantity("index_low")
    index_high: Mapped[Quantity] = quantity("index_high")
    """Mach index above which filling falls."""

    filling_low: Mapped[Quantity] = quantity("filling_low")
    filling_high: Mapped[Quantity] = quantity("filling_high")
    """Volumetric efficiency, of the air before the valve."""

    air_fuel_low: Mapped[Quantity] = quantity("air_fuel_low")
    air_fuel_high: Mapped[Quantity] = quantity("air_fuel_high")
    consumption_low: Mapped[Quantity] = quantity("consumption_low")
    consumption_high: Mapped[Quantity] = quantity("consumption_high")
    """Brake specific: fuel over work at the crankshaft."""

    temperature_low: Mapped[Quantity] = quantity("temperature_low")
    temperature_high: Mapped[Quantity] = quantity("temperature_high")
    """Of the air before the intake valve."""

    pressure_low: Mapped[Quantity] = quantity("pressure_low")
    pressure_high: Mapped[Quantity] = quantity("pressure_high")
    """Of the air where the engine runs, absolute."""

    source: Mapped[Line]
    job: Mapped[Job | None] = relationship()
