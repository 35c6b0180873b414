"""The shop itself: one row of settings, and the counters that number its papers."""

from __future__ import annotations

from decimal import Decimal
from typing import Annotated

from sqlalchemy import CheckConstraint, String, false, true
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import (
    Base,
    DecimalText,
    Line,
    Name,
    Versioned,
    Words,
    quantity,
)
from shopflow.unit_choices import QUANTITIES, Choices
from shopflow.units import Quantity

ChosenUnit = Annotated[str, mapped_column(String(10), default="", server_default="")]
"""A unit of one quantity, where the shop chose it."""


class Shop(Versioned, Base):
    """The shop's name, address and how it likes its figures."""

    __tablename__ = "shop"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("language IN ('en_US', 'en_GB')", name="language"),
        CheckConstraint("unit_system IN ('us', 'si')", name="unit_system"),
        CheckConstraint("paper_size IN ('Letter', 'A4')", name="paper_size"),
        *(
            CheckConstraint(
                f"{quantity}_unit IN ({', '.join(repr(unit) for unit in ('', *units))})",
                name=f"{quantity}_unit",
            )
            for quantity, units in QUANTITIES.items()
        ),
    )

    id: Mapped[int] = mapped_column(primary_key=True, default=1)
    name: Mapped[Name]
    address: Mapped[Words]
    country: Mapped[str] = mapped_column(String(2), default="", server_default="")
    """As ISO 3166-1 alpha-2 has it; empty until the owner sets it."""

    phone: Mapped[Line]
    email: Mapped[Line]
    web_address: Mapped[Line]
    """Address of this app, for the codes on documents; empty until the owner sets it."""

    language: Mapped[str] = mapped_column(String(10), default="en_US")
    """A key of texts.LANGUAGES: spelling, and order of dates on screens."""

    time_zone: Mapped[str] = mapped_column(String(60), default="UTC")
    unit_system: Mapped[str] = mapped_column(String(2), default="us")
    length_unit: Mapped[ChosenUnit]
    area_unit: Mapped[ChosenUnit]
    flow_unit: Mapped[ChosenUnit]
    test_pressure_unit: Mapped[ChosenUnit]
    air_pressure_unit: Mapped[ChosenUnit]
    temperature_unit: Mapped[ChosenUnit]
    velocity_unit: Mapped[ChosenUnit]
    force_unit: Mapped[ChosenUnit]
    boost_unit: Mapped[ChosenUnit]
    power_unit: Mapped[ChosenUnit]
    """Units of single quantities; empty where it is that of the system."""

    paper_size: Mapped[str] = mapped_column(String(10), default="Letter")
    currency: Mapped[str] = mapped_column(String(3), default="USD")
    altitude: Mapped[Quantity | None] = quantity("altitude", optional=True)
    """Above sea level; new flow tests start with it."""

    spring_shims: Mapped[Line] = mapped_column(server_default="")
    """Thicknesses of the shims on hand, as "0.015 in, 0.030 in"; empty where not listed."""

    tax_rate_percent: Mapped[Decimal] = mapped_column(DecimalText, default=Decimal(0))
    """The standard rate."""

    reduced_tax_rate_percent: Mapped[Decimal] = mapped_column(
        DecimalText, default=Decimal(0), server_default="0"
    )
    exempt_reason: Mapped[Line] = mapped_column(server_default="")
    """Reason printed for lines exempt from tax."""

    bench_day_reminder: Mapped[bool] = mapped_column(default=True, server_default=true())
    """True where benches remind of checks that are missing today."""
    uses_parts: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where the shop keeps parts, orders them and sends work out; no trace of it else."""

    first_days_put_away: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True once the owner put the checklist of the first days away."""

    @property
    def unit_choices(self) -> Choices:
        """Quantities that a unit is chosen for, each with its unit."""
        units = ((quantity, str(getattr(self, f"{quantity}_unit"))) for quantity in QUANTITIES)
        return tuple((quantity, unit) for quantity, unit in units if unit)


class Counter(Base):
    """The last number given out in a series and year; numbers never repeat."""

    __tablename__ = "counter"

    series: Mapped[str] = mapped_column(String(20), primary_key=True)
    year: Mapped[int] = mapped_column(primary_key=True)
    last: Mapped[int]
