"""Certificates."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from shopflow import models


@dataclass(frozen=True)
class Certificate:
    """An issued certificate; its PDF lies under its own address."""

    id: int
    number: str
    revision: int
    revision_reason: str
    job: str
    issued_at: datetime
    issued_by: str
    sha256: str
    withdrawn_at: datetime | None
    withdrawal_reason: str

    @classmethod
    def of(cls, row: models.Certificate) -> Certificate:
        """A certificate as issued."""
        return cls(
            id=row.id,
            number=row.number,
            revision=row.revision,
            revision_reason=row.revision_reason,
            job=row.job.number,
            issued_at=row.issued_at,
            issued_by=row.issued_by.name,
            sha256=row.sha256,
            withdrawn_at=row.withdrawn_at,
            withdrawal_reason=row.withdrawal_reason,
        )
