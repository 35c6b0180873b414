"""Heads: the physical castings, and who has owned them."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ForeignKey, String, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Line, Moment, UtcDateTime, Versioned, Words, choice
from shopflow.models.places import HeadPlan
from shopflow.texts import gettext, gettext_noop

if TYPE_CHECKING:
    from shopflow.models.customer import Customer
    from shopflow.models.engine_type import EngineType
    from shopflow.models.job import Job, Visit
    from shopflow.models.person import User


class HeadStatus(StrEnum):
    """Standing of a casting in the shop."""

    IN_USE = gettext_noop("in use")
    SPARE = gettext_noop("spare")
    """The shop's own, to be offered where a customer's head is beyond repair."""

    SCRAPPED = gettext_noop("scrapped")
    SOLD = gettext_noop("sold")
    RETURNED = gettext_noop("returned")
    """Given back to its owner, not to be worked on."""


GONE = (HeadStatus.SCRAPPED, HeadStatus.SOLD, HeadStatus.RETURNED)
"""Statuses that need a reason."""


class Head(Versioned, Base):
    """One casting; it keeps its history over jobs and owners."""

    __tablename__ = "head"
    __table_args__ = (
        CheckConstraint(
            "status IN ('in use', 'spare') OR status_because <> ''", name="status_has_reason"
        ),
        CheckConstraint("offered_job_id IS NULL OR status = 'spare'", name="offered_spare"),
    )

    id: Mapped[Id]
    engine_type_id: Mapped[int] = mapped_column(ForeignKey("engine_type.id"), index=True)
    casting_number: Mapped[str] = mapped_column(String(100), default="", index=True)
    serial: Mapped[str] = mapped_column(String(100), default="", index=True)
    """Stamped or tagged on the casting."""

    material: Mapped[Line]
    ports: Mapped[Line]
    """As "one intake, one exhaust per cylinder" or "siamesed exhaust 2 and 3"."""

    chamber: Mapped[Line]
    """Layout of the chamber, as "pent roof" or "wedge"."""

    cylinders: Mapped[Line] = mapped_column(server_default="")
    """Their numbers in the engine, as "1, 3, 5, 7"; empty where they run from 1."""

    notes: Mapped[Words]
    status: Mapped[HeadStatus] = mapped_column(
        choice(HeadStatus),
        default=HeadStatus.IN_USE,
        server_default=HeadStatus.IN_USE.value,
        index=True,
    )
    status_because: Mapped[str] = mapped_column(String(200), default="", server_default="")
    status_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    status_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    offered_job_id: Mapped[int | None] = mapped_column(ForeignKey("job.id"), index=True)
    """The job a spare is offered for."""

    open_data_key: Mapped[str | None] = mapped_column(String(36), unique=True)
    """Random name of the head in open data; none before its first export."""

    from_open_data: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where its tests were imported from open data: it is no head of the shop's."""

    engine_type: Mapped[EngineType] = relationship(back_populates="heads")
    owners: Mapped[list[HeadOwner]] = relationship(
        back_populates="head", cascade="all, delete-orphan", order_by="HeadOwner.since"
    )
    visits: Mapped[list[Visit]] = relationship(back_populates="head")
    status_by: Mapped[User | None] = relationship()
    offered_job: Mapped[Job | None] = relationship()

    @property
    def identity(self) -> str:
        """Casting number and serial number, which tell this casting from another of its kind."""
        return identity(self.casting_number, self.serial)

    @property
    def plan(self) -> HeadPlan | None:
        """Its places; none while the layout of its engine type is not recorded."""
        return self.engine_type.plan(self.cylinders)


def identity(casting_number: str, serial: str) -> str:
    """Describe a casting by its numbers, as "casting 4021, serial 17"."""
    parts = [
        gettext("casting {casting_number}", casting_number=casting_number) if casting_number else ""
    ]
    parts.append(gettext("serial {serial}", serial=serial) if serial else "")
    return ", ".join(part for part in parts if part) or gettext("no casting number or serial")


class HeadOwner(Base):
    """Ownership of a head by a customer over a period; the present one has no end."""

    __tablename__ = "head_owner"
    __table_args__ = (CheckConstraint("until >= since", name="in_order"),)

    id: Mapped[Id]
    head_id: Mapped[int] = mapped_column(ForeignKey("head.id"), index=True)
    customer_id: Mapped[int] = mapped_column(ForeignKey("customer.id"), index=True)
    since: Mapped[Moment]
    until: Mapped[datetime | None] = mapped_column(UtcDateTime)

    head: Mapped[Head] = relationship(back_populates="owners")
    customer: Mapped[Customer] = relationship()
