"""Engines after the work: results that customers report, and the forecasts saved before."""

from __future__ import annotations

from datetime import date
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import JSON, CheckConstraint, Date, ForeignKey
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Name, Versioned, Words, choice, quantity
from shopflow.models.job import Job, Visit
from shopflow.texts import gettext_noop
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.person import User


class ResultKind(StrEnum):
    """Place where a reported result was taken."""

    DYNAMOMETER = gettext_noop("dynamometer")
    TRACK = gettext_noop("track")
    ROAD = gettext_noop("road")
    OTHER = gettext_noop("other")


class PowerAt(StrEnum):
    """Place in the drive at which a power was measured; only the crankshaft's is a forecast's."""

    CRANKSHAFT = gettext_noop("crankshaft")
    WHEELS = gettext_noop("wheels")
    UNKNOWN = gettext_noop("not stated")


class EngineResult(Versioned, Base):
    """Result of a job's engine, as the customer reported it."""

    __tablename__ = "engine_result"
    __table_args__ = (
        CheckConstraint("power_si > 0", name="power_positive"),
        CheckConstraint("speed_si > 0", name="speed_positive"),
        CheckConstraint("boost_si >= 0", name="boost_not_negative"),
        CheckConstraint("elapsed_time_si > 0", name="elapsed_time_positive"),
        CheckConstraint("end_speed_si > 0", name="end_speed_positive"),
        CheckConstraint(
            "power_si IS NOT NULL OR elapsed_time_si IS NOT NULL OR end_speed_si IS NOT NULL "
            "OR notes <> ''",
            name="says_something",
        ),
    )

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    day: Mapped[date] = mapped_column(Date)
    kind: Mapped[ResultKind] = mapped_column(choice(ResultKind))
    power: Mapped[Quantity | None] = quantity("power", optional=True)
    power_at: Mapped[PowerAt] = mapped_column(choice(PowerAt), default=PowerAt.UNKNOWN)
    speed: Mapped[Quantity | None] = quantity("speed", optional=True)
    """Of the crankshaft at that power."""

    boost: Mapped[Quantity | None] = quantity("boost", optional=True)
    fuel: Mapped[Line]
    air_temperature: Mapped[Quantity | None] = quantity("air_temperature", optional=True)
    air_pressure: Mapped[Quantity | None] = quantity("air_pressure", optional=True)
    elapsed_time: Mapped[Quantity | None] = quantity("elapsed_time", optional=True)
    end_speed: Mapped[Quantity | None] = quantity("end_speed", optional=True)
    source: Mapped[Line]
    """Source of the numbers, as "dynamometer sheet of 12 May"."""

    notes: Mapped[Words]
    entered_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job: Mapped[Job] = relationship()
    person: Mapped[User | None] = relationship()


class EngineForecast(Base):
    """Forecast of an engine's air and power as it stood when it was saved; it never changes."""

    __tablename__ = "engine_forecast"
    __table_args__ = (
        CheckConstraint("air_low <= air_median AND air_median <= air_high", name="air_in_order"),
        CheckConstraint(
            "power_low <= power_median AND power_median <= power_high", name="power_in_order"
        ),
        CheckConstraint(
            "speed_low <= speed_median AND speed_median <= speed_high", name="speed_in_order"
        ),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    cam: Mapped[Name]
    test: Mapped[Name]
    """Names of the cam and the intake's flow test it is from."""

    air_low: Mapped[float]
    air_median: Mapped[float]
    air_high: Mapped[float]
    """Of all cylinders, kg/s; 19 in 20 lie between the ends."""

    power_low: Mapped[float | None]
    power_median: Mapped[float | None]
    power_high: Mapped[float | None]
    """At the crankshaft, W; None where the fuel was not known."""

    speed_low: Mapped[float]
    speed_median: Mapped[float]
    speed_high: Mapped[float]
    """Of the crankshaft, revolutions per second."""

    ranges: Mapped[list[list[str]]] = mapped_column(JSON)
    """Name, low end and high end of each range behind it, as typed."""

    made_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship()
    person: Mapped[User | None] = relationship()
