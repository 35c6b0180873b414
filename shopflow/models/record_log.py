"""The log that proves the records: a digest of each version of each row, its head, its anchors.

`shopflow.tamper_evidence` writes and checks it.
"""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import BigInteger, CheckConstraint, LargeBinary, String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Line, UtcDateTime, choice
from shopflow.texts import gettext_noop


class RecordLogEntry(Base):
    """One version of one row."""

    __tablename__ = "record_log"

    number: Mapped[int] = mapped_column(BigInteger, primary_key=True, autoincrement=False)
    """From 1, without a gap: an entry's leaf of the tree is the one before, from 0."""

    subject: Mapped[str] = mapped_column(String(40))
    """Table of the row."""

    subject_key: Mapped[str] = mapped_column(String(60))
    """Primary key of the row; of two columns with a slash between."""

    digest: Mapped[bytes | None] = mapped_column(LargeBinary)
    """SHA-256 of the row's contents; none where the row was deleted."""

    replaces: Mapped[bytes | None] = mapped_column(LargeBinary)
    """Digest of the row as the writer met it: not the last one logged, where it had been changed
    past the program. None for a new row, empty where it was not read before."""


class RecordLogHead(Base):
    """The log's size and the tree over it, in one row that writers lock in turn."""

    __tablename__ = "record_log_head"
    __table_args__ = (CheckConstraint("id = 1", name="only_one"),)

    id: Mapped[int] = mapped_column(primary_key=True, default=1)
    size: Mapped[int] = mapped_column(BigInteger)
    stack: Mapped[bytes] = mapped_column(LargeBinary)
    """Roots of the complete subtrees, greatest first (RFC 9162, 2.1.2)."""


class AnchorKind(StrEnum):
    """Reason why a head of the log was noted."""

    START = gettext_noop("start")
    """The log began here, with the records that were there already."""

    UPGRADE = gettext_noop("upgrade")
    """A migration changed tables, and their rows were taken in again."""

    ACCEPTED = gettext_noop("accepted")
    """A person accepted the records as they stood then."""

    MAIL = gettext_noop("mail")
    """The head was mailed out of the shop."""

    TIME_STAMP = gettext_noop("time stamp")
    """An authority put its time on the head."""


class RecordLogAnchor(Base):
    """A head of the log as it was at a moment; mailed and stamped ones are known outside."""

    __tablename__ = "record_log_anchor"

    id: Mapped[Id]
    kind: Mapped[AnchorKind] = mapped_column(choice(AnchorKind))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    size: Mapped[int] = mapped_column(BigInteger)
    root: Mapped[str] = mapped_column(String(64))
    """The head's hash in hexadecimal."""

    sent_to: Mapped[Line] = mapped_column(server_default="")
    """Address it was mailed to, or of the authority that stamped it."""

    reply: Mapped[bytes | None] = mapped_column(LargeBinary)
    """The authority's reply, RFC 3161."""
