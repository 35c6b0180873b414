"""Operations: the steps of a head's routing, their kinds, and the routings a shop saves."""

from __future__ import annotations

from datetime import datetime
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import (
    JSON,
    CheckConstraint,
    ForeignKey,
    String,
    Text,
    UniqueConstraint,
    false,
)
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    DecimalText,
    Id,
    Line,
    Name,
    Price,
    UtcDateTime,
    Versioned,
    Words,
    choice,
)
from shopflow.models.integrity_test import IntegrityKind
from shopflow.models.tax_class import TaxClass
from shopflow.texts import gettext_noop

if TYPE_CHECKING:
    from shopflow.models.integrity_test import IntegrityTest
    from shopflow.models.job import Visit
    from shopflow.models.job_line import JobLine
    from shopflow.models.measurement import Measurement
    from shopflow.models.person import User
    from shopflow.models.release import Release
    from shopflow.models.time_spent import TimeSpent


class OperationState(StrEnum):
    """State of a step."""

    PLANNED = gettext_noop("planned")
    STARTED = gettext_noop("started")
    DONE = gettext_noop("done")
    SKIPPED = gettext_noop("skipped")
    DECLINED = gettext_noop("declined")
    """The customer does not want it: it is neither done nor charged."""


OPEN_STEP_STATES = (OperationState.PLANNED, OperationState.STARTED)
DROPPED_STEP_STATES = (OperationState.SKIPPED, OperationState.DECLINED)

LEAVES_PORTS = ("weld-repair", "guide", "valve-grind", "resurface")
"""Codes of the built-in kinds that cut metal and leave ports, chambers and seats as they are."""


class OperationKind(Versioned, Base):
    """A kind of step, as the seat cut or the hot wash."""

    __tablename__ = "operation_kind"
    __table_args__ = (CheckConstraint("usual_minutes >= 0", name="minutes_not_negative"),)

    id: Mapped[Id]
    code: Mapped[str] = mapped_column(String(40), unique=True)
    name: Mapped[Name]
    cuts_metal: Mapped[bool] = mapped_column(default=False)
    cautions: Mapped[list[str]] = mapped_column(JSON, default=list)
    """Keys of the hazards that the work order must warn of."""

    asks_for: Mapped[list[str]] = mapped_column(JSON, default=list)
    """Codes of the measurements this step should leave behind."""

    asks_where: Mapped[dict[str, str]] = mapped_column(JSON, default=dict, server_default="{}")
    """Places that each of those is asked for at: "every", "each cylinder", "each port" or a
    number; one place where it has no entry."""

    tests_by: Mapped[IntegrityKind | None] = mapped_column(choice(IntegrityKind))
    """The test whose result this step needs before it is signed off; none for most."""

    usual_minutes: Mapped[int] = mapped_column(default=0)
    usual_price: Mapped[Price]
    """Blank until the shop sets it."""

    tax_class: Mapped[TaxClass] = mapped_column(
        choice(TaxClass), default=TaxClass.STANDARD, server_default=TaxClass.STANDARD.value
    )
    active: Mapped[bool] = mapped_column(default=True)

    @property
    def shapes_ports(self) -> bool:
        """True where a head after this step is no longer as cast; a shop's own cutting kinds
        count."""
        return self.cuts_metal and self.code not in LEAVES_PORTS


class Operation(Versioned, Base):
    """One step of one head's routing on a job."""

    __tablename__ = "operation"
    __table_args__ = (
        CheckConstraint("planned_minutes >= 0", name="planned_not_negative"),
        CheckConstraint("actual_minutes >= 0", name="actual_not_negative"),
        CheckConstraint("price >= 0", name="price_not_negative"),
        CheckConstraint(
            "state <> 'done' OR (signed_off_at IS NOT NULL AND signed_off_by_id IS NOT NULL)",
            name="sign_off_by_someone",
        ),
        CheckConstraint("state <> 'skipped' OR skip_reason <> ''", name="skip_has_reason"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    kind_id: Mapped[int] = mapped_column(ForeignKey("operation_kind.id"), index=True)
    position: Mapped[int]
    state: Mapped[OperationState] = mapped_column(
        choice(OperationState), default=OperationState.PLANNED
    )
    instructions: Mapped[Words]
    """For the person who does it; never on a customer's document."""

    customer_text: Mapped[str] = mapped_column(Text, default="", server_default="")
    """Printed under its line on quotes and invoices."""

    planned_minutes: Mapped[int] = mapped_column(default=0)
    actual_minutes: Mapped[int | None]
    price: Mapped[Price]
    """Blank while it is not priced."""

    started_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    started_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    signed_off_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    signed_off_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    skip_reason: Mapped[Words]
    notes: Mapped[Words]
    again_because: Mapped[str] = mapped_column(Text, default="", server_default="")
    """Reason why the step before it is repeated; empty where it is no repeat."""

    found: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True where it is extra work, added after the approval: it needs an approval of its own."""

    not_measured_because: Mapped[str] = mapped_column(Text, default="", server_default="")
    """Reason why measurements that it asks for were skipped; empty where none were."""

    package_id: Mapped[int | None] = mapped_column(ForeignKey("job_line.id"), index=True)
    """The package that includes it, at no price of its own."""

    job_head: Mapped[Visit] = relationship(back_populates="operations")
    kind: Mapped[OperationKind] = relationship(lazy="joined", innerjoin=True)
    package: Mapped[JobLine | None] = relationship()
    started_by: Mapped[User | None] = relationship(foreign_keys=[started_by_id])
    signed_off_by: Mapped[User | None] = relationship(foreign_keys=[signed_off_by_id])
    measurements: Mapped[list[Measurement]] = relationship(
        primaryjoin="and_(Operation.id == Measurement.operation_id, Measurement.counts)",
        back_populates="operation",
        order_by="Measurement.id",
    )
    """Those that count: one struck out is not among them."""

    integrity_tests: Mapped[list[IntegrityTest]] = relationship(
        primaryjoin="and_(Operation.id == IntegrityTest.operation_id, IntegrityTest.counts)",
        back_populates="operation",
        order_by="IntegrityTest.id",
    )
    """Those that count: one withdrawn is not among them."""

    stretches: Mapped[list[TimeSpent]] = relationship(
        back_populates="operation", order_by="TimeSpent.started_at, TimeSpent.id"
    )
    release: Mapped[Release | None] = relationship(back_populates="operation")

    @property
    def key(self) -> str:
        """Its key among everything that is charged on a job."""
        return str(self.id)

    @property
    def is_step(self) -> bool:
        """True: a line of a job is none."""
        return True

    @property
    def title(self) -> str:
        """Name of its kind."""
        return self.kind.name

    @property
    def tag(self) -> str:
        """Tag of its head."""
        return self.job_head.tag

    @property
    def tax_class(self) -> TaxClass:
        """Class of tax of its kind."""
        return self.kind.tax_class

    @property
    def can_be_declined(self) -> bool:
        """True where it is not begun yet; what is in a package goes with that."""
        return self.state is OperationState.PLANNED and self.package_id is None

    @property
    def is_open(self) -> bool:
        """True where work on the step remains."""
        return self.state in OPEN_STEP_STATES

    @property
    def is_done(self) -> bool:
        """True where the work was done; a closed step may be skipped or declined instead."""
        return self.state is OperationState.DONE

    @property
    def running(self) -> list[TimeSpent]:
        """Periods of work on the step that have not ended."""
        return [stretch for stretch in self.stretches if stretch.runs]

    @property
    def counts(self) -> bool:
        """True where the step is charged for."""
        return self.state not in DROPPED_STEP_STATES

    @property
    def is_declined(self) -> bool:
        """True where the customer does not want the step."""
        return self.state is OperationState.DECLINED

    @property
    def charge(self) -> Decimal | None:
        """Charge before tax: nothing where the shop bears the job, none where it is not priced."""
        return Decimal(0) if self.job_head.job.is_borne_by_shop else self.price


class Routing(Versioned, Base):
    """A list of steps the shop uses often."""

    __tablename__ = "routing"

    id: Mapped[Id]
    name: Mapped[str] = mapped_column(String(200), unique=True)
    notes: Mapped[Words]
    package_price: Mapped[Price]
    """Price of its steps and parts together; blank where each has its own."""

    tax_class: Mapped[TaxClass] = mapped_column(
        choice(TaxClass), default=TaxClass.STANDARD, server_default=TaxClass.STANDARD.value
    )
    """Of the package."""

    parts: Mapped[list[RoutingPart]] = relationship(
        back_populates="routing",
        cascade="all, delete-orphan",
        order_by="RoutingPart.position",
        lazy="selectin",
    )
    steps: Mapped[list[RoutingStep]] = relationship(
        back_populates="routing",
        cascade="all, delete-orphan",
        order_by="RoutingStep.position",
        lazy="selectin",
    )


class RoutingStep(Base):
    """One step of a saved routing."""

    __tablename__ = "routing_step"
    __table_args__ = (
        UniqueConstraint("routing_id", "position"),
        CheckConstraint("planned_minutes >= 0", name="planned_not_negative"),
    )

    id: Mapped[Id]
    routing_id: Mapped[int] = mapped_column(ForeignKey("routing.id"))
    kind_id: Mapped[int] = mapped_column(ForeignKey("operation_kind.id"), index=True)
    position: Mapped[int]
    instructions: Mapped[Words]
    customer_text: Mapped[str] = mapped_column(Text, default="", server_default="")
    planned_minutes: Mapped[int] = mapped_column(default=0)
    price: Mapped[Price]

    routing: Mapped[Routing] = relationship(back_populates="steps")
    kind: Mapped[OperationKind] = relationship(lazy="joined", innerjoin=True)


class RoutingPart(Base):
    """A part of a saved routing."""

    __tablename__ = "routing_part"
    __table_args__ = (UniqueConstraint("routing_id", "position"),)

    id: Mapped[Id]
    routing_id: Mapped[int] = mapped_column(ForeignKey("routing.id"))
    position: Mapped[int]
    description: Mapped[Name]
    part_number: Mapped[Line]
    quantity: Mapped[Decimal] = mapped_column(DecimalText, default=Decimal(1))
    unit: Mapped[str] = mapped_column(String(20), default="")
    unit_price: Mapped[Price]

    routing: Mapped[Routing] = relationship(back_populates="parts")
