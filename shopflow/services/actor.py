"""Actor and time of a change; every service that changes records takes one."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime

from shopflow.models import User


@dataclass(frozen=True, slots=True)
class Actor:
    """The acting person and the moment of the act."""

    person: User | None
    at: datetime
    program: str = ""
    """Name of the token that acts for the person; empty where the person does so itself."""

    @classmethod
    def now(cls, person: User | None) -> Actor:
        """A person acting at this moment."""
        return cls(person, datetime.now(UTC))

    @property
    def person_id(self) -> int | None:
        """Key of the person; none for what the system does by itself."""
        return self.person.id if self.person else None
