"""The shop itself: one row of settings, and the counters that number its papers."""

from __future__ import annotations

from decimal import Decimal

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
from shopflow.units import Quantity


class Shop(Versioned, Base):
    """The shop's name, address and how it likes its figures."""

    __tablename__ = "shop"
    __table_args__ = (
        CheckConstraint("id = 1", name="only_one"),
        CheckConstraint("language IN ('en_US', 'en_GB')", name="language"),
        CheckConstraint("unit_system IN ('us', 'si')", name="unit_system"),
        CheckConstraint("paper_size IN ('Letter', 'A4')", name="paper_size"),
    )

    id: Mapped[int] = mapped_column(primary_key=True, default=1)
    name: Mapped[Name]
    address: Mapped[Words]
    phone: Mapped[Line]
    email: Mapped[Line]
    web_address: Mapped[Line]
    """Address of this app, for the codes on documents; empty until the owner sets it."""

    language: Mapped[str] = mapped_column(String(10), default="en_US")
    """A key of texts.LANGUAGES: spelling, and order of dates on screens."""

    time_zone: Mapped[str] = mapped_column(String(60), default="UTC")
    unit_system: Mapped[str] = mapped_column(String(2), default="us")
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


class Counter(Base):
    """The last number given out in a series and year; numbers never repeat."""

    __tablename__ = "counter"

    series: Mapped[str] = mapped_column(String(20), primary_key=True)
    year: Mapped[int] = mapped_column(primary_key=True)
    last: Mapped[int]
