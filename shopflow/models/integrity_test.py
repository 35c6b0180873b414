"""Results of pressure, vacuum, leak and crack tests: the place, the conditions, the verdict."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING

from sqlalchemy import CheckConstraint, ColumnElement, ForeignKey, String
from sqlalchemy.ext.hybrid import hybrid_property
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import (
    Base,
    Id,
    Line,
    Moment,
    UtcDateTime,
    Versioned,
    choice,
    quantity,
)
from shopflow.models.decision import Decidable
from shopflow.models.places import PlaceKind, valve_label
from shopflow.texts import gettext, gettext_noop, translated
from shopflow.units import Quantity

if TYPE_CHECKING:
    from shopflow.models.attachment import JobFile
    from shopflow.models.decision import Decision
    from shopflow.models.job import Visit
    from shopflow.models.operation import Operation
    from shopflow.models.person import User


class IntegrityKind(StrEnum):
    """Method by which a head is tested for cracks and leaks."""

    PRESSURE = gettext_noop("pressure test")
    VACUUM = gettext_noop("vacuum test")
    LEAK = gettext_noop("leak test")
    CRACK = gettext_noop("crack test")


class IntegrityPart(StrEnum):
    """The part of a head that a test was made on."""

    HEAD = gettext_noop("head")
    CYLINDER = gettext_noop("cylinder")
    PORT = gettext_noop("port")
    VALVE = gettext_noop("valve")
    GUIDE = gettext_noop("guide")
    REGION = gettext_noop("region")
    """One that has no number, in words, as "around the bolt holes of cylinder 2"."""


OF_ONE_VALVE = (IntegrityPart.VALVE, IntegrityPart.GUIDE)


class IntegrityVerdict(StrEnum):
    """A person's verdict on a test."""

    PASSED = gettext_noop("passed")
    WATCH = gettext_noop("watch")
    """Good for now: to be looked at again at the next visit."""

    REPAIRABLE = gettext_noop("repairable")
    FAILED = gettext_noop("failed")


STOPPING = (IntegrityVerdict.REPAIRABLE, IntegrityVerdict.FAILED)
"""Verdicts that stop the work on a head until someone decides."""


class IntegrityTest(Versioned, Decidable, Base):
    """One test of one place, kept as typed; a later one of the same place replaces it."""

    __tablename__ = "integrity_test"
    __table_args__ = (
        CheckConstraint("medium <> '' OR method <> ''", name="medium_or_method"),
        CheckConstraint("pressure_si > 0", name="pressure_positive"),
        CheckConstraint("duration_si > 0", name="duration_positive"),
        CheckConstraint("pressure_drop_si >= 0", name="drop_not_negative"),
        CheckConstraint("volume_si > 0", name="volume_positive"),
        CheckConstraint("temperature_si > 0", name="temperature_positive"),
        CheckConstraint("cylinder >= 1", name="cylinder_counted"),
        CheckConstraint("valve >= 1", name="valve_counted"),
        CheckConstraint("side IN ('', 'intake', 'exhaust')", name="side"),
        CheckConstraint("part <> 'region' OR place <> ''", name="region_in_words"),
        CheckConstraint(
            "part IN ('head', 'region') OR (cylinder IS NOT NULL AND "
            "(part = 'cylinder' OR side <> ''))",
            name="part_numbered",
        ),
        CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_because = '')", name="withdrawal_has_reason"
        ),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    operation_id: Mapped[int | None] = mapped_column(ForeignKey("operation.id"), index=True)
    """The step it was made for; none for a test beside the work plan."""

    kind: Mapped[IntegrityKind] = mapped_column(choice(IntegrityKind))
    part: Mapped[IntegrityPart] = mapped_column(
        choice(IntegrityPart), default=IntegrityPart.HEAD, server_default=IntegrityPart.HEAD.value
    )
    cylinder: Mapped[int | None]
    side: Mapped[str] = mapped_column(String(10), default="", server_default="")
    valve: Mapped[int | None]
    """Number of the valve on its side of the cylinder, from 1."""

    place: Mapped[Line]
    """A region in words; empty for any other part."""

    spot: Mapped[str] = mapped_column(String(200), default="", server_default="")
    """Exact spot of the leak or crack, as "between the seats, to the bolt hole"."""

    method: Mapped[str] = mapped_column(String(200), default="", server_default="")
    """As "dye penetrant" or "cup on the port"; a crack test always has one."""

    medium: Mapped[Line]
    """The fluid, as "water" or "air"."""

    pressure: Mapped[Quantity | None] = quantity("pressure", optional=True)
    """Above the air around it; of a vacuum test below it."""

    duration: Mapped[Quantity | None] = quantity("duration", optional=True)
    drop: Mapped[Quantity | None] = quantity("pressure_drop", optional=True)
    volume: Mapped[Quantity | None] = quantity("volume", optional=True)
    """Of the gas shut in, where it is known."""

    temperature: Mapped[Quantity | None] = quantity("temperature", optional=True)
    """Of the head, where it is tested hot."""

    verdict: Mapped[IntegrityVerdict] = mapped_column(choice(IntegrityVerdict))
    proposed: Mapped[IntegrityVerdict | None] = mapped_column(
        choice(IntegrityVerdict, "proposedverdict")
    )
    """By the limits when it was recorded; none where nothing was held against it."""

    limits: Mapped[str] = mapped_column(String(200), default="", server_default="")
    """Those limits in words."""

    notes: Mapped[Line]
    photo_id: Mapped[int | None] = mapped_column(ForeignKey("job_file.id"), index=True)
    at: Mapped[Moment]
    person_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    withdrawn_because: Mapped[str] = mapped_column(String(200), default="", server_default="")

    job_head: Mapped[Visit] = relationship(back_populates="integrity_tests")
    operation: Mapped[Operation | None] = relationship(back_populates="integrity_tests")
    person: Mapped[User | None] = relationship(lazy="joined", foreign_keys=[person_id])
    withdrawn_by: Mapped[User | None] = relationship(foreign_keys=[withdrawn_by_id])
    photo: Mapped[JobFile | None] = relationship()
    decisions: Mapped[list[Decision]] = relationship(
        back_populates="integrity_test", order_by="Decision.id"
    )

    @hybrid_property
    def counts(self) -> bool:
        """True unless it was withdrawn: `Visit.integrity_tests` and the step's hold those alone."""
        return self.withdrawn_at is None

    @counts.inplace.expression
    @classmethod
    def _counts(cls) -> ColumnElement[bool]:
        return cls.withdrawn_at.is_(None)

    @hybrid_property
    def stops(self) -> bool:
        """True where the work waits for a decision on it."""
        return self.verdict in STOPPING

    @stops.inplace.expression
    @classmethod
    def _stops(cls) -> ColumnElement[bool]:
        return cls.verdict.in_(STOPPING)

    @property
    def title(self) -> str:
        """Its name, as "Pressure test"."""
        return translated(self.kind.value).capitalize()

    @property
    def where(self) -> str:
        """The part tested, as "cylinder 2, intake valve"; empty for the whole head."""
        if self.part is IntegrityPart.REGION:
            return self.place
        if self.part is IntegrityPart.HEAD or self.cylinder is None:
            return ""
        if self.part is IntegrityPart.CYLINDER:
            return gettext("cylinder {cylinder}", cylinder=self.cylinder)
        kind = PlaceKind(self.part.value)
        return valve_label(self.cylinder, self.side, self._valve_name, kind)

    @property
    def _valve_name(self) -> str:
        """The valve's name among those of its side; empty where it needs none."""
        names = self.job_head.head.engine_type.valve_names(self.side) if self.side else []
        if self.valve is None or (len(names) == 1 and not names[0]):
            return ""
        return (
            names[self.valve - 1]
            if self.valve <= len(names)
            else gettext("no. {valve}", valve=self.valve)
        )

    @property
    def place_key(self) -> tuple[object, ...]:
        """Key that tells the place tested from others: a later test of the same one replaces it."""
        return self.kind, self.part, self.cylinder, self.side, self.valve, self.place.casefold()

    @property
    def result(self) -> str:
        """The verdict in a word."""
        return translated(self.verdict.value)

    @property
    def conditions(self) -> str:
        """Test conditions, as "water, 4 bar, 10 min, drop 0.1 bar"."""
        parts = [self.method, self.medium]
        parts += [each.text for each in (self.pressure, self.duration) if each]
        parts += [gettext("drop {drop}", drop=self.drop.text)] if self.drop else []
        parts += [gettext("volume {volume}", volume=self.volume.text)] if self.volume else []
        parts += (
            [gettext("at {temperature}", temperature=self.temperature.text)]
            if self.temperature
            else []
        )
        return ", ".join(filter(None, parts))

    @property
    def remarks(self) -> str:
        """The exact spot of the leak, and the note."""
        return "; ".join(filter(None, (self.spot, self.notes)))

    @property
    def figure(self) -> str:
        """The result with its conditions, as a decision on it holds them."""
        return f"{self.result}: {self.conditions}"[:200]
