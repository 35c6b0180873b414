"""Seat profiles: the cuts of a seat from the chamber to the throat, and the tool of each."""

from __future__ import annotations

from sqlalchemy import CheckConstraint, ForeignKey, String, UniqueConstraint
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, Versioned, choice, quantity
from shopflow.models.engine_type import EngineType
from shopflow.models.job import Visit
from shopflow.models.measurement import When
from shopflow.models.person import User
from shopflow.models.places import HeadPlace, PlaceKind
from shopflow.units import Quantity


class SeatProfile(Versioned, Base):
    """The cuts of one seat of a head's visit, or the usual ones of a side of an engine type."""

    __tablename__ = "seat_profile"
    __table_args__ = (
        UniqueConstraint("job_head_id", "cylinder", "side", "valve", "taken"),
        UniqueConstraint("engine_type_id", "side"),
        CheckConstraint("(engine_type_id IS NULL) <> (job_head_id IS NULL)", name="of_one"),
        CheckConstraint(
            "(job_head_id IS NULL) = (cylinder IS NULL) AND (cylinder IS NULL) = (valve IS NULL)",
            name="of_a_valve",
        ),
        CheckConstraint("cylinder >= 1", name="cylinder_counted"),
        CheckConstraint("valve >= 1", name="valve_counted"),
        CheckConstraint("side IN ('intake', 'exhaust')", name="side"),
        CheckConstraint("head_diameter_si > 0", name="head_diameter_positive"),
        CheckConstraint("margin_si >= 0", name="margin_not_negative"),
        CheckConstraint("throat_diameter_si > 0", name="throat_positive"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int | None] = mapped_column(ForeignKey("engine_type.id"))
    job_head_id: Mapped[int | None] = mapped_column(ForeignKey("job_head.id"))
    cylinder: Mapped[int | None]
    side: Mapped[str] = mapped_column(String(10))
    valve: Mapped[int | None]
    """Number of the valve on its side of the cylinder, from 1."""

    when: Mapped[When] = mapped_column("taken", choice(When), default=When.AFTER)
    """BEFORE for the condition on arrival, AFTER for what is to be cut and then was cut."""

    head_diameter: Mapped[Quantity | None] = quantity("head_diameter", optional=True)
    """Of the valve's head, as the three sizes below of the valve and throat it is cut for."""

    margin: Mapped[Quantity | None] = quantity("margin", optional=True)
    throat_diameter: Mapped[Quantity | None] = quantity("throat_diameter", optional=True)
    contact_position: Mapped[Quantity | None] = quantity("contact_position", optional=True)
    """Along the valve's face from below its margin to the seat's outer edge, where stated."""

    notes: Mapped[Line]
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))

    engine_type: Mapped[EngineType | None] = relationship()
    job_head: Mapped[Visit | None] = relationship(back_populates="seat_profiles")
    person: Mapped[User | None] = relationship()
    cuts: Mapped[list[SeatCut]] = relationship(
        back_populates="profile",
        cascade="all, delete-orphan",
        order_by="SeatCut.position",
        lazy="selectin",
    )

    @property
    def head_place(self) -> HeadPlace | None:
        """Its seat on the head; none for the usual profile of a side."""
        plan = self.job_head.head.plan if self.job_head else None
        if plan is None:
            return None
        return plan.place_at(PlaceKind.SEAT, (self.cylinder, self.side, self.valve))


class SeatCut(Base):
    """One cut of a seat: its angle, and a width along its face or an outer diameter, or both."""

    __tablename__ = "seat_cut"
    __table_args__ = (
        UniqueConstraint("profile_id", "position"),
        CheckConstraint("angle_si > 0 AND angle_si < 1.5708", name="angle"),
        CheckConstraint("width_si > 0", name="width_positive"),
        CheckConstraint("outer_diameter_si > 0", name="outer_diameter_positive"),
        CheckConstraint("blend_radius_si > 0", name="blend_radius_positive"),
    )

    id: Mapped[Id]
    profile_id: Mapped[int] = mapped_column(ForeignKey("seat_profile.id"))
    position: Mapped[int]
    """From 1, the cut next to the chamber."""

    angle: Mapped[Quantity] = quantity("angle")
    """From the plane of the seat."""

    width: Mapped[Quantity | None] = quantity("width", optional=True)
    outer_diameter: Mapped[Quantity | None] = quantity("outer_diameter", optional=True)
    blend_radius: Mapped[Quantity | None] = quantity("blend_radius", optional=True)
    """Radius at its edge to the next cut; of the last cut, to the wall of the throat."""

    tool: Mapped[Line]
    """Cutter or stone."""

    is_contact: Mapped[bool] = mapped_column(default=False)
    """True of the cut that carries the valve."""

    profile: Mapped[SeatProfile] = relationship(back_populates="cuts")
