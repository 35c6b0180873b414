"""Jobs, and the heads that came in on them."""

from __future__ import annotations

from datetime import date, datetime
from decimal import Decimal
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, Date, ForeignKey, String, UniqueConstraint, false
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Id,
    Line,
    UtcDateTime,
    Versioned,
    Words,
    choice,
    quantity,
)
from shopflow.models.warranty import Bearer
from shopflow.texts import gettext_noop
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.attachment import JobFile
    from shopflow.models.certificate import Certificate
    from shopflow.models.certificate_draft import CertificateDraft
    from shopflow.models.collection import Collection
    from shopflow.models.customer import Customer
    from shopflow.models.customer_link import CustomerLink
    from shopflow.models.discarded_test import DiscardedTest
    from shopflow.models.hand_off import HandOffNote
    from shopflow.models.head import Head
    from shopflow.models.hold import Hold
    from shopflow.models.integrity_test import IntegrityTest
    from shopflow.models.job_line import JobLine
    from shopflow.models.measurement import Measurement
    from shopflow.models.operation import Operation
    from shopflow.models.received_part import ReceivedPart
    from shopflow.models.seat_profile import SeatProfile
    from shopflow.models.session import BenchSession
    from shopflow.models.spring import Spring
    from shopflow.models.test_draft import TestDraft
    from shopflow.models.warranty import WarrantyReturn


class Purpose(StrEnum):
    """Use that the engine is built for."""

    STREET = gettext_noop("street")
    TRACK = gettext_noop("track")
    DRAG = gettext_noop("drag")
    TOW = gettext_noop("tow")
    MARINE = gettext_noop("marine")
    RESTORATION = gettext_noop("restoration")
    OTHER = gettext_noop("other")


class Induction(StrEnum):
    """Induction of the engine: natural, or by a charger."""

    NATURAL = gettext_noop("natural")
    TURBOCHARGED = gettext_noop("turbocharged")
    SUPERCHARGED = gettext_noop("supercharged")


class CastingState(StrEnum):
    """Earlier work on a casting's ports, chambers and seats, as found on arrival."""

    AS_CAST = gettext_noop("as cast")
    PORTED_HERE = gettext_noop("ported here")
    PORTED_ELSEWHERE = gettext_noop("ported elsewhere")
    UNKNOWN = gettext_noop("unknown")


PORTED_STATES = (CastingState.PORTED_HERE, CastingState.PORTED_ELSEWHERE)


class JobState(StrEnum):
    """State of a job; the values are shown as they are."""

    BOOKED_IN = gettext_noop("booked in")
    QUOTED = gettext_noop("quoted")
    APPROVED = gettext_noop("approved")
    IN_WORK = gettext_noop("in work")
    READY = gettext_noop("ready")
    COLLECTED = gettext_noop("collected")
    SHIPPED = gettext_noop("shipped")
    CANCELLED = gettext_noop("cancelled")
    DEVELOPMENT = gettext_noop("development")
    """The shop's own tests of a casting, booked in by nobody: it stands on no floor."""


CLOSED_STATES = (JobState.COLLECTED, JobState.SHIPPED, JobState.CANCELLED)
OPEN_STATES = tuple(
    state for state in JobState if state not in (*CLOSED_STATES, JobState.DEVELOPMENT)
)
"""States of customers' jobs whose heads are in the shop."""

PRACTICE_NUMBER = "PRACTICE"
"""Number of the practice job, of which there is one at most."""


class Job(Versioned, Base):
    """One customer's order of work, on one or more heads."""

    __tablename__ = "job"
    __table_args__ = (
        CheckConstraint("boost_si >= 0", name="boost_not_negative"),
        CheckConstraint("rev_limit_rpm > 0", name="rev_limit_positive"),
        CheckConstraint("intake_lift_si > 0", name="intake_lift_positive"),
        CheckConstraint("exhaust_lift_si > 0", name="exhaust_lift_positive"),
        CheckConstraint("approved_at IS NULL OR approved_by <> ''", name="approval_by_someone"),
        CheckConstraint("state <> 'cancelled' OR cancel_reason <> ''", name="cancel_has_reason"),
    )

    id: Mapped[Id]
    number: Mapped[str] = mapped_column(String(20), unique=True)
    earlier_number: Mapped[str | None] = mapped_column(String(60), unique=True, index=True)
    """Its number in the records it was imported from; none for a job booked in here."""

    customer_id: Mapped[int] = mapped_column(ForeignKey("customer.id"), index=True)
    state: Mapped[JobState] = mapped_column(
        choice(JobState), default=JobState.BOOKED_IN, index=True
    )
    priority: Mapped[int] = mapped_column(default=0)
    booked_in_at: Mapped[datetime] = mapped_column(UtcDateTime, index=True)
    promised_on: Mapped[date | None] = mapped_column(Date, index=True)
    closed_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    purpose: Mapped[Purpose] = mapped_column(choice(Purpose), default=Purpose.STREET)
    induction: Mapped[Induction] = mapped_column(choice(Induction), default=Induction.NATURAL)
    boost: Mapped[Quantity | None] = quantity("boost", optional=True)
    rev_limit_rpm: Mapped[int | None]
    fuel: Mapped[Line]
    intake_lift: Mapped[Quantity | None] = quantity("intake_lift", optional=True)
    exhaust_lift: Mapped[Quantity | None] = quantity("exhaust_lift", optional=True)
    asked_for: Mapped[Words]
    notes: Mapped[Words]
    order_number: Mapped[Line] = mapped_column(server_default="")
    """The customer's own number of the order."""

    approved_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    approved_by: Mapped[Line]
    approved_how: Mapped[Line]
    cancel_reason: Mapped[Words]
    is_practice: Mapped[bool] = mapped_column(default=False, server_default=false())
    """True of a job to practice on, which can be discarded whole."""

    customer: Mapped[Customer] = relationship(back_populates="jobs")
    heads: Mapped[list[Visit]] = relationship(
        back_populates="job", cascade="all, delete-orphan", order_by="Visit.position"
    )
    lines: Mapped[list[JobLine]] = relationship(
        back_populates="job", cascade="all, delete-orphan", order_by="JobLine.position"
    )
    """Parts, freight and the like, of all heads and of the job."""

    certificates: Mapped[list[Certificate]] = relationship(
        back_populates="job", order_by="Certificate.number, Certificate.revision"
    )
    files: Mapped[list[JobFile]] = relationship(back_populates="job", order_by="JobFile.id")
    links: Mapped[list[CustomerLink]] = relationship(
        back_populates="job", order_by="CustomerLink.id.desc()"
    )
    collections: Mapped[list[Collection]] = relationship(
        back_populates="job", order_by="Collection.id"
    )
    return_of: Mapped[WarrantyReturn | None] = relationship(
        foreign_keys="WarrantyReturn.job_id", back_populates="job"
    )
    """The job this one returns from, where it is a warranty return."""

    returns: Mapped[list[WarrantyReturn]] = relationship(
        foreign_keys="WarrantyReturn.from_job_id",
        back_populates="from_job",
        order_by="WarrantyReturn.id",
    )
    """The jobs that returned from this one."""

    @property
    def is_boosted(self) -> bool:
        """True where the engine is charged above the outside air."""
        return self.induction is not Induction.NATURAL or self.boost is not None

    @property
    def is_borne_by_shop(self) -> bool:
        """True where it is a warranty return that the customer pays nothing for."""
        return self.return_of is not None and self.return_of.borne_by is Bearer.SHOP

    @property
    def price(self) -> Decimal:
        """Price of the steps of every head, before tax."""
        return sum((visit.price for visit in self.heads), Decimal(0))

    @property
    def is_open(self) -> bool:
        """True where the heads are still in the shop's care."""
        return self.state not in CLOSED_STATES and self.closed_at is None

    @property
    def is_development(self) -> bool:
        """True where it is the shop's own, without a customer."""
        return self.state is JobState.DEVELOPMENT

    @property
    def collection(self) -> Collection | None:
        """Collection by which the job left the shop; None while it is here."""
        return next((row for row in reversed(self.collections) if row.taken_back_at is None), None)


class Visit(Versioned, Base):
    """A head's visit to the shop on one job: everything done to it hangs here."""

    __tablename__ = "job_head"
    __table_args__ = (UniqueConstraint("job_id", "head_id"), UniqueConstraint("job_id", "position"))

    id: Mapped[Id]
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"))
    head_id: Mapped[int] = mapped_column(ForeignKey("head.id"), index=True)
    position: Mapped[int]
    tag: Mapped[str] = mapped_column(String(30), unique=True)
    casting_state: Mapped[CastingState] = mapped_column(
        choice(CastingState),
        default=CastingState.UNKNOWN,
        server_default=CastingState.UNKNOWN.value,
    )
    """On arrival; a head that was here before takes it from its last visit."""

    condition: Mapped[Words]
    parts_received: Mapped[Words]
    came_back_because: Mapped[Words]
    """Reason why a head the shop worked on before is here again; empty on a first visit."""

    untouched_because: Mapped[Words] = mapped_column(server_default="")
    """Reason why the head leaves with nothing done to it; empty where work was done."""

    job: Mapped[Job] = relationship(back_populates="heads")
    parts: Mapped[list[ReceivedPart]] = relationship(
        back_populates="job_head",
        cascade="all, delete-orphan",
        order_by="ReceivedPart.position",
    )
    head: Mapped[Head] = relationship(back_populates="visits")
    operations: Mapped[list[Operation]] = relationship(
        back_populates="job_head", cascade="all, delete-orphan", order_by="Operation.position"
    )
    measurements: Mapped[list[Measurement]] = relationship(
        primaryjoin="and_(Visit.id == Measurement.job_head_id, Measurement.counts)",
        back_populates="job_head",
        cascade="all, delete-orphan",
        order_by="Measurement.id",
    )
    """Those that count; `struck_measurements` are the others."""

    struck_measurements: Mapped[list[Measurement]] = relationship(
        primaryjoin="and_(Visit.id == Measurement.job_head_id, not_(Measurement.counts))",
        order_by="Measurement.id",
        viewonly=True,
    )
    integrity_tests: Mapped[list[IntegrityTest]] = relationship(
        primaryjoin="and_(Visit.id == IntegrityTest.job_head_id, IntegrityTest.counts)",
        back_populates="job_head",
        order_by="IntegrityTest.id",
    )
    """The pressure, vacuum, leak and crack tests that count; the others were withdrawn."""

    withdrawn_integrity_tests: Mapped[list[IntegrityTest]] = relationship(
        primaryjoin="and_(Visit.id == IntegrityTest.job_head_id, not_(IntegrityTest.counts))",
        order_by="IntegrityTest.id",
        viewonly=True,
    )
    seat_profiles: Mapped[list[SeatProfile]] = relationship(
        back_populates="job_head", cascade="all, delete-orphan", order_by="SeatProfile.id"
    )
    sessions: Mapped[list[BenchSession]] = relationship(
        primaryjoin="and_(Visit.id == BenchSession.job_head_id, BenchSession.counts)",
        back_populates="job_head",
        order_by="BenchSession.position",
    )
    """The flow tests that count; `withdrawn_sessions` are the others."""

    withdrawn_sessions: Mapped[list[BenchSession]] = relationship(
        primaryjoin="and_(Visit.id == BenchSession.job_head_id, not_(BenchSession.counts))",
        order_by="BenchSession.position, BenchSession.id",
        viewonly=True,
    )
    open_tests: Mapped[list[TestDraft]] = relationship(viewonly=True)
    """The flow test being taken of it, where there is one."""

    discarded_tests: Mapped[list[DiscardedTest]] = relationship(
        order_by="DiscardedTest.discarded_at.desc()", viewonly=True
    )
    hand_off: Mapped[HandOffNote | None] = relationship(
        back_populates="job_head", cascade="all, delete-orphan"
    )
    springs: Mapped[list[Spring]] = relationship(
        back_populates="job_head", cascade="all, delete-orphan", order_by="Spring.side.desc()"
    )
    """The intake's first."""

    certificate_drafts: Mapped[list[CertificateDraft]] = relationship(
        back_populates="job_head", order_by="CertificateDraft.id"
    )
    waits: Mapped[list[Hold]] = relationship(
        back_populates="job_head", cascade="all, delete-orphan", order_by="Hold.since, Hold.id"
    )

    @property
    def parts_in_words(self) -> str:
        """Every part that came with it, counted, then the notes on the parts."""
        counted = ", ".join(f"{part.count} {part.name}" for part in self.parts)
        return "\n".join(line for line in (counted, self.parts_received) if line)

    @property
    def price(self) -> Decimal:
        """Charge for this head's priced operations, before tax."""
        return sum(
            (step.charge or Decimal(0) for step in self.operations if step.counts), Decimal(0)
        )

    @property
    def finished_steps(self) -> list[Operation]:
        """Its steps that were done; not those skipped or declined."""
        return [step for step in self.operations if step.is_done]

    @property
    def is_untouched(self) -> bool:
        """True where nothing was done on it: no step, no measurement, no test."""
        return not (
            self.finished_steps or self.measurements or self.sessions or self.integrity_tests
        )

    @property
    def next_operation(self) -> Operation | None:
        """The first operation not yet done or skipped."""
        return next((step for step in self.operations if step.is_open), None)
