"""Drafts of flow certificates: what is to be certified, and who checked it."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from sqlalchemy import JSON, CheckConstraint, Connection, ForeignKey, String, Text, event, inspect
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Base, Id, Moment, UtcDateTime, Versioned, Words, choice
from shopflow.texts import gettext, gettext_noop

if TYPE_CHECKING:
    from shopflow.models.cam import Cam
    from shopflow.models.certificate import Certificate
    from shopflow.models.job import Visit
    from shopflow.models.person import User
    from shopflow.models.session import BenchSession


class Baseline(StrEnum):
    """Test that each later test of a port is compared with."""

    FIRST = gettext_noop("the first")
    PREVIOUS = gettext_noop("the one before")
    NONE = gettext_noop("nothing")


class DraftState(StrEnum):
    """State of a certificate on its way to issue."""

    DRAFT = gettext_noop("draft")
    CHECKED = gettext_noop("checked")
    ISSUED = gettext_noop("issued")


class CertificateDraft(Versioned, Base):
    """A certificate before it is issued: the sessions chosen and the texts on them."""

    __tablename__ = "certificate_draft"
    __table_args__ = (
        CheckConstraint("replaces_id IS NULL OR reason <> ''", name="correction_has_reason"),
        CheckConstraint(
            "(checked_at IS NULL) = (checked_by_id IS NULL)", name="checked_by_someone"
        ),
        CheckConstraint(
            "checked_by_id IS NULL OR checked_by_id <> written_by_id OR check_statement <> ''",
            name="own_check_has_statement",
        ),
        CheckConstraint("certificate_id IS NULL OR checked_at IS NOT NULL", name="checked_first"),
    )

    id: Mapped[Id]
    job_head_id: Mapped[int] = mapped_column(ForeignKey("job_head.id"), index=True)
    replaces_id: Mapped[int | None] = mapped_column(ForeignKey("certificate.id"))
    reason: Mapped[Words]
    """Reason for a correction, and its subject."""

    baseline: Mapped[Baseline] = mapped_column(choice(Baseline), default=Baseline.FIRST)
    departures: Mapped[Words]
    """From the usual method; empty for none but the readings left out."""

    opinions: Mapped[Words]
    """Shop's opinions on the results, one per line; printed as such."""

    identification: Mapped[Words]
    """Identification of the head without casting number and serial, or besides them."""

    sampling_reason: Mapped[str] = mapped_column(Text, default="", server_default="")
    """Reason why these ports were tested, where not all were."""

    cam_id: Mapped[int | None] = mapped_column(ForeignKey("cam.id"))
    """Cam that its tests are shown through; none for a certificate without that section."""

    answers: Mapped[dict[str, str]] = mapped_column(JSON, default=dict)
    """Answer to each doubt of its results, by the doubt in words."""

    written_at: Mapped[Moment]
    written_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    checked_at: Mapped[datetime | None] = mapped_column(UtcDateTime)
    checked_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    check_statement: Mapped[Words]
    """Method of the check; needed where the writer checked it."""

    checked_fingerprint: Mapped[str] = mapped_column(String(64), default="")
    """SHA-256 of everything it stated when it was checked."""

    certificate_id: Mapped[int | None] = mapped_column(ForeignKey("certificate.id"), unique=True)
    """Certificate it was issued as."""

    job_head: Mapped[Visit] = relationship(back_populates="certificate_drafts")
    replaces: Mapped[Certificate | None] = relationship(foreign_keys=[replaces_id])
    certificate: Mapped[Certificate | None] = relationship(foreign_keys=[certificate_id])
    cam: Mapped[Cam | None] = relationship()
    written_by: Mapped[User] = relationship(foreign_keys=[written_by_id])
    checked_by: Mapped[User | None] = relationship(foreign_keys=[checked_by_id])
    sessions: Mapped[list[DraftSession]] = relationship(
        cascade="all, delete-orphan", order_by="DraftSession.position"
    )

    @property
    def is_identified(self) -> bool:
        """True where a casting number, serial number or description tells the head from another."""
        head = self.job_head.head
        return bool(head.casting_number or head.serial or self.identification)

    @property
    def state(self) -> DraftState:
        """State of the draft: issued, checked by a second person, or neither yet."""
        if self.certificate_id is not None:
            return DraftState.ISSUED
        return DraftState.DRAFT if self.checked_at is None else DraftState.CHECKED


class DraftSession(Base):
    """A bench session chosen for a draft."""

    __tablename__ = "certificate_draft_session"

    draft_id: Mapped[int] = mapped_column(ForeignKey("certificate_draft.id"), primary_key=True)
    session_id: Mapped[int] = mapped_column(
        ForeignKey("bench_session.id"), primary_key=True, index=True
    )
    position: Mapped[int]

    session: Mapped[BenchSession] = relationship()


@event.listens_for(CertificateDraft, "before_update")
@event.listens_for(CertificateDraft, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, draft: CertificateDraft) -> None:
    """A draft that has been issued is part of what its certificate rests on."""
    history = inspect(draft).attrs.certificate_id.history
    if any(history.unchanged) or any(history.deleted):
        raise RuleError(gettext("this draft has been issued; it cannot be changed any more"))
