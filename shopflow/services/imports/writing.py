"""Writing past jobs: in bulk what changes nothing on record, by the shop's verbs what does."""

from __future__ import annotations

from collections.abc import Iterable
from datetime import UTC, datetime
from operator import attrgetter

from sqlalchemy.orm import Session

from shopflow.models import Job, Visit
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.counter import booking
from shopflow.services.imports.bulk import Bulk, ImportedVisit
from shopflow.services.imports.heads import HeadKey
from shopflow.services.imports.parties import Parties
from shopflow.services.imports.pastjobs import (
    PastJob,
    PastVisit,
    RecordedHead,
    identity,
    key_of_record,
)
from shopflow.services.jobs import jobs
from shopflow.services.shop.settings import get_shop, zone


class Writer:
    """Writes past jobs in the order of their days, from which they have their numbers."""

    def __init__(
        self, db: Session, by: Actor, parties: Parties, castings: dict[HeadKey, RecordedHead]
    ) -> None:
        self.db = db
        self.by = by
        self.parties = parties
        self.castings = castings
        # Kept at hand: every verb asks for it.
        self.shop = get_shop(db)

    def write(self, past_jobs: Iterable[PastJob], *, by_verbs: bool = False) -> None:
        """Write the jobs that have tests; with `by_verbs`, through the services instead of in
        bulk."""
        wanted = sorted((job for job in past_jobs if job.has_tests), key=attrgetter("day"))
        with audit_log.deferred(self.db, self.by):
            parties = (part for job in wanted for part in (job.customer, job.engine))
            self.parties.make(self.db, self.by, parties)
        bulk, in_zone = Bulk(self.db, self.by, zone(self.shop)), zone(self.shop)
        for past in wanted:
            at = past.day.replace(tzinfo=in_zone).astimezone(UTC)
            if not by_verbs and self._leaves_all_as_it_is(past, at):
                bulk.add(past, at, [self._visit(visit, at) for visit in past.tested])
                continue
            bulk.write()
            with audit_log.deferred(self.db, self.by, "imported"):
                row = self._by_verbs(past, Actor(self.by.person, at))
            for head in (visit.head for visit in row.heads):
                if head.serial:
                    self.castings[key_of_record(head)] = RecordedHead.of(head)
        bulk.write()

    def _leaves_all_as_it_is(self, past: PastJob, at: datetime) -> bool:
        """True where neither a recorded job nor a recorded head changes."""
        owner = past.customer.row.id
        heads = [(self._recorded_head(visit), visit.casting) for visit in past.tested]
        return past.row is None and all(
            head is None or head.stays_as_it_is(owner, at, casting) for head, casting in heads
        )

    def _recorded_head(self, visit: PastVisit) -> RecordedHead | None:
        """The recorded head, by its serial; one without a serial is a head of its own."""
        key = visit.head_key
        return self.castings.get(key) if key[1] == "serial" else None

    def _visit(self, visit: PastVisit, at: datetime) -> ImportedVisit:
        head = self._recorded_head(visit)
        if head is not None:
            return ImportedVisit(visit, head, is_first=False)
        numbers = {"casting_number": "", "serial": "", **visit.casting}
        new_head = RecordedHead(numbers, visit.job.customer.row.id, at)
        if visit.head_key[1] == "serial":
            self.castings[visit.head_key] = new_head
        return ImportedVisit(visit, new_head, is_first=True)

    def _by_verbs(self, past: PastJob, then: Actor) -> Job:
        """A past job, booked in when its first test was made, and closed."""
        on_it = {key_of_record(visit.head): visit for visit in past.row.heads} if past.row else {}
        for visit in past.tested:
            row = on_it.get(visit.head_key) or self._taken_in(past, visit, then)
            past.row = row.job
            for test in visit.tests:
                document = test.document(past.engine.name, identity(test.casting))
                sessions.store(self.db, self.by, row, document, entry_key=test.key)
        job = row.job
        return jobs.close_past(self.db, then, job) if job.is_open else job

    def _taken_in(self, past: PastJob, visit: PastVisit, then: Actor) -> Visit:
        head = self._recorded_head(visit)
        values = {**visit.casting, **({"head_id": head.key} if head else {})}
        if past.row is not None:
            return booking.add_head(self.db, then, past.row, past.engine.row, values)
        customer, engine = past.customer.row.id, past.engine.row.id
        form = booking.BookIn(heads=[values], customer_id=customer, engine_type_id=engine)
        job = booking.book_in(self.db, then, form)
        job.earlier_number = past.number
        return job.heads[0]
