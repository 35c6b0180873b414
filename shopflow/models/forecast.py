"""Past gains by the steps they came from, and the forecasts that were made from them."""

from __future__ import annotations

from typing import TYPE_CHECKING

from sqlalchemy import JSON, CheckConstraint, ForeignKey, Index, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment

if TYPE_CHECKING:
    from shopflow.models.job import Visit
    from shopflow.models.person import User

SIDE = "side IN ('intake', 'exhaust')"
PART = "part IN ('whole', 'low', 'mid', 'high')"


def steps_key(kinds: set[int] | frozenset[int]) -> str:
    """Key of a set of kinds of step, whatever their order.

    >>> steps_key({12, 3})
    '3-12'
    """
    return "-".join(map(str, sorted(kinds)))


class GainCase(Base):
    """Gain of a head by a set of steps between two tests of its ports, over a part of the lift.

    It is calculated from the tests and steps, and renewed by every verb that changes them.
    """

    __tablename__ = "gain_case"
    __table_args__ = (
        UniqueConstraint("job_head_id", "steps", "side", "part"),
        CheckConstraint(SIDE, name="side"),
        CheckConstraint(PART, name="part"),
        CheckConstraint("ports >= 1", name="ports_counted"),
        Index("ix_gain_case_steps_side_part_saved_at", "steps", "side", "part", "saved_at"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"))
    steps: Mapped[str] = mapped_column(String(200))
    """All kinds of step that cut metal between the tests, by their keys: see `steps_key`."""

    side: Mapped[str] = mapped_column(String(10))
    part: Mapped[str] = mapped_column(String(10))
    """Part of the lift: "whole", "low", "mid" or "high"."""

    log_gain: Mapped[float]
    """Logarithm of the mean effective area after over before, in the mean over the ports."""

    standard_uncertainty: Mapped[float]
    expanded_uncertainty: Mapped[float]
    """Of the same for 95 %."""

    ports: Mapped[int]
    tests: Mapped[list[list[int]]] = mapped_column(JSON)
    """Keys of the earlier and the later test of each port."""

    saved_at: Mapped[Moment]
    """Time when the last of its tests was saved: no forecast of before rests on it."""

    job_head: Mapped[Visit] = relationship()


class KeptForecast(Base):
    """A forecast as it stood when its first step was started, for what came to be held against."""

    __tablename__ = "forecast"
    __table_args__ = (
        UniqueConstraint("job_head_id", "steps", "side", "part"),
        CheckConstraint(SIDE, name="side"),
        CheckConstraint(PART, name="part"),
        CheckConstraint("low <= median AND median <= high", name="in_order"),
        CheckConstraint("cases >= same_type AND same_type >= 0", name="cases_counted"),
        Index(None, "made_at"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"))
    steps: Mapped[str] = mapped_column(String(200))
    side: Mapped[str] = mapped_column(String(10))
    part: Mapped[str] = mapped_column(String(10))
    low: Mapped[float]
    median: Mapped[float]
    high: Mapped[float]
    """Logarithms of the area after over before; nine of ten lie between `low` and `high`."""

    cases: Mapped[int]
    same_type: Mapped[int]
    made_at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    job_head: Mapped[Visit] = relationship()
    person: Mapped[User | None] = relationship()
