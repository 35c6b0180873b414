"""Flow certificates; an issued one never changes, but for being withdrawn once."""

from __future__ import annotations

from datetime import datetime
from typing import TYPE_CHECKING, Any

from sqlalchemy import (
    JSON,
    CheckConstraint,
    Connection,
    ForeignKey,
    LargeBinary,
    String,
    UniqueConstraint,
    event,
    inspect,
)
from sqlalchemy.orm import Mapped, Mapper, mapped_column, relationship

from shopflow.errors import RuleError
from shopflow.models.base import Base, Id, Moment, UtcDateTime, Words
from shopflow.texts import gettext, lazy

if TYPE_CHECKING:
    from shopflow.models.job import Job
    from shopflow.models.person import User
    from shopflow.models.session import BenchSession


class Certificate(Base):
    """An issued certificate: its frozen figures and the bytes the customer got."""

    __tablename__ = "certificate"
    __table_args__ = (
        UniqueConstraint("number", "revision"),
        CheckConstraint("revision >= 1", name="revision_counted"),
        CheckConstraint("revision = 1 OR revision_reason <> ''", name="revision_has_reason"),
        CheckConstraint(
            "(withdrawn_at IS NULL) = (withdrawn_by_id IS NULL) "
            "AND (withdrawn_at IS NULL) = (withdrawal_reason = '')",
            name="withdrawn_by_someone",
        ),
    )

    id: Mapped[Id]
    number: Mapped[str] = mapped_column(String(20))
    revision: Mapped[int] = mapped_column(default=1)
    revision_reason: Mapped[Words]
    supersedes_id: Mapped[int | None] = mapped_column(ForeignKey("certificate.id"))
    job_id: Mapped[int] = mapped_column(ForeignKey("job.id"), index=True)
    issued_at: Mapped[Moment]
    issued_by_id: Mapped[int] = mapped_column(ForeignKey("person.id"))
    snapshot: Mapped[dict[str, Any]] = mapped_column(JSON)
    """Every input and result it states, as plain data."""

    pdf: Mapped[bytes] = mapped_column(LargeBinary, deferred=True)
    sha256: Mapped[str] = mapped_column(String(64), index=True)
    code: Mapped[str] = mapped_column(String(19))
    """Code to type to verify it, as printed on it."""

    withdrawn_at: Mapped[datetime | None] = mapped_column(UtcDateTime, active_history=True)
    withdrawn_by_id: Mapped[int | None] = mapped_column(ForeignKey("person.id"))
    withdrawal_reason: Mapped[Words]

    job: Mapped[Job] = relationship(back_populates="certificates")
    issued_by: Mapped[User] = relationship(foreign_keys=[issued_by_id])
    withdrawn_by: Mapped[User | None] = relationship(foreign_keys=[withdrawn_by_id])
    supersedes: Mapped[Certificate | None] = relationship(remote_side="Certificate.id")
    sessions: Mapped[list[CertificateSession]] = relationship(
        cascade="save-update, merge",
        order_by="CertificateSession.position",
        # Nothing is blanked out in the links: the refusal below comes first.
        passive_deletes="all",
    )

    @property
    def title(self) -> str:
        """Number with its revision, as printed."""
        return (
            self.number
            if self.revision == 1
            else gettext("{number} revision {revision}", number=self.number, revision=self.revision)
        )


class CertificateSession(Base):
    """A bench session a certificate rests on."""

    __tablename__ = "certificate_session"

    certificate_id: Mapped[int] = mapped_column(ForeignKey("certificate.id"), primary_key=True)
    session_id: Mapped[int] = mapped_column(
        ForeignKey("bench_session.id"), primary_key=True, index=True
    )
    position: Mapped[int]

    session: Mapped[BenchSession] = relationship()


_REFUSAL = lazy("an issued certificate cannot be changed or deleted; issue a new revision")
_WITHDRAWAL = {"withdrawn_at", "withdrawn_by_id", "withdrawn_by", "withdrawal_reason"}


@event.listens_for(Certificate, "before_update")
def _refuse_change(mapper: Mapper[Any], connection: Connection, certificate: Certificate) -> None:
    attributes = inspect(certificate).attrs
    changed = {item.key for item in attributes if item.history.has_changes()}
    if changed - _WITHDRAWAL:
        raise RuleError(str(_REFUSAL))
    history = attributes.withdrawn_at.history
    if changed and (any(history.deleted) or any(history.unchanged)):
        raise RuleError(gettext("a withdrawal is final; issue a new revision"))


@event.listens_for(Certificate, "before_delete")
@event.listens_for(CertificateSession, "before_update")
@event.listens_for(CertificateSession, "before_delete")
def _refuse(mapper: Mapper[Any], connection: Connection, target: Any) -> None:
    raise RuleError(str(_REFUSAL))


@event.listens_for(Certificate.sessions, "append")
@event.listens_for(Certificate.sessions, "remove")
def _refuse_links(certificate: Certificate, link: CertificateSession, initiator: Any) -> None:
    if inspect(certificate).persistent:
        raise RuleError(str(_REFUSAL))
