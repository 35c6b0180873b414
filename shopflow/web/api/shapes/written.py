"""Bodies that programs send, and the answers to them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from shopflow import models


@dataclass(frozen=True)
class NewFlowTest:
    """A flow test as its file states it, kept exactly as typed."""

    file: str
    """TOML, as a flow test's page exports it."""

    after_operation: int | None = None
    """Key of the step that it follows."""


@dataclass(frozen=True)
class NewMeasurement:
    """A value that was measured, at its place; quantities with their units, as "0.0021 in"."""

    kind: str
    """Code of what was measured."""

    value: str
    cylinder: int | None = None
    side: str | None = None
    valve: str | None = None
    place: str | None = None
    distance: str | None = None
    taken: models.When | None = None
    lower: str | None = None
    upper: str | None = None
    notes: str | None = None
    operation: int | None = None
    """Key of the step it was taken at."""

    @property
    def values(self) -> dict[str, Any]:
        """Fields that were given, as the service takes them."""
        names = ("value", "cylinder", "side", "valve", "place", "distance", "lower", "upper",
                 "notes")  # fmt: skip
        given = {name: getattr(self, name) for name in names}
        values = {name: value for name, value in given.items() if value is not None}
        return values if self.taken is None else {**values, "when": self.taken}


@dataclass(frozen=True)
class Notes:
    """Notes of a job, for the shop alone."""

    notes: str


@dataclass(frozen=True)
class File:
    """A photo or document of a job, or of one head on it."""

    id: int
    job: str
    tag: str | None
    name: str
    caption: str
    media_type: str
    size: int
    sha256: str
    shown_to_customer: bool
    added_at: datetime

    @classmethod
    def of(cls, row: models.JobFile) -> File:
        """A file on record."""
        return cls(
            id=row.id,
            job=row.job.number,
            tag=row.job_head.tag if row.job_head else None,
            name=row.name,
            caption=row.caption,
            media_type=row.media_type,
            size=row.size,
            sha256=row.sha256,
            shown_to_customer=row.shown_to_customer,
            added_at=row.added_at,
        )
