"""The past jobs of a file: their heads and tests, before they are written."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime

from shopflow.models import Head, Job
from shopflow.models.head import identity as identity_of
from shopflow.services.imports.heads import HeadKey, head_key
from shopflow.services.imports.parties import Party
from shopflow.services.imports.patterns import Test
from shopflow.services.registry import heads


@dataclass(eq=False)
class RecordedHead:
    """A head with a serial, on record or about to be."""

    values: dict[str, str]
    owner_id: int | None
    since: datetime
    """Time when it came to the last of its owners."""

    key: int = 0

    @classmethod
    def of(cls, head: Head) -> RecordedHead:
        """One on record."""
        owner = heads.owner(head)
        values = {"casting_number": head.casting_number, "serial": head.serial}
        since = max(term.since for term in head.owners)
        return cls(values, owner.id if owner else None, since, head.id)

    def stays_as_it_is(self, owner_id: int, at: datetime, casting: dict[str, str]) -> bool:
        """True where a past visit changes neither owner nor numbers; see `heads.pass_to`."""
        is_theirs = self.owner_id == owner_id or self.since > at
        return is_theirs and self.values.items() >= casting.items()


@dataclass(eq=False)
class PastJob:
    """A job of the file and its heads, by what they are known by."""

    number: str
    first_row: int
    customer: Party
    engine: Party
    row: Job | None
    visits: dict[HeadKey, PastVisit] = field(default_factory=dict)

    @property
    def tested(self) -> list[PastVisit]:
        """Its heads with tests to be written."""
        return [visit for visit in self.visits.values() if visit.tests]

    @property
    def has_tests(self) -> bool:
        """True where at least one of its tests is new."""
        return any(visit.tests for visit in self.visits.values())

    @property
    def day(self) -> datetime:
        """Time of its first test, as typed."""
        return min(test.measured_at for visit in self.visits.values() for test in visit.tests)


@dataclass(eq=False)
class PastVisit:
    """A head on a past job, and its tests."""

    job: PastJob
    casting: dict[str, str]
    tests: list[Test] = field(default_factory=list)

    @property
    def head_key(self) -> HeadKey:
        """Key that identifies its head; a new engine type has its own key by then."""
        return head_key(self.job.engine, self.casting)


def key_of_record(head: Head) -> HeadKey:
    """Key that identifies a recorded head."""
    numbers = {"serial": head.serial, "casting_number": head.casting_number}
    return head_key(Party("", head.engine_type), numbers)


def identity(casting: Mapping[str, str]) -> str:
    """Describe a casting by its numbers, as its tests do."""
    return identity_of(casting.get("casting_number", ""), casting.get("serial", ""))
