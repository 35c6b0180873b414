"""Past jobs that change nothing on record, written a table at a time.

The rows are those that the verbs make; tests/services/imports/test_bulk.py holds both to it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from itertools import islice
from typing import Any
from zoneinfo import ZoneInfo

from sqlalchemy.orm import Session

from shopflow.models import (
    Base,
    BenchSession,
    Event,
    Head,
    HeadOwner,
    Job,
    Reading,
    SessionLift,
    Visit,
    lookup_text,
)
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions, summaries
from shopflow.services.bulk_insert import Row, free_keys, in_columns, insert_rows
from shopflow.services.counter import booking
from shopflow.services.imports.pastjobs import PastJob, PastVisit, RecordedHead, identity
from shopflow.services.imports.patterns import Pattern, Test
from shopflow.services.jobs import jobs
from shopflow.services.numbering import next_numbers
from shopflow.texts import gettext

AT_ONCE = 1_000
"""Jobs written together."""

NAMES: dict[type[Base], tuple[str, ...]] = {
    Head: ("id", "engine_type_id", "casting_number", "serial"),
    HeadOwner: ("head_id", "customer_id", "since"),
    Job: ("id", "number", "earlier_number", "customer_id", "booked_in_at", "state", "closed_at"),
    Visit: ("id", "job_id", "head_id", "position", "tag"),
    BenchSession: (
        *("id", "job_head_id", "entry_key", "engine_type", "head", "stage", "cylinder"),
        *("operator", "notes", "measured_at_typed", "measured_at"),
        *("position", "mean_area", "peak_area", "gain_over_first"),
    ),
    SessionLift: ("id", "session_id", "position", "lift_typed", "lift_si"),
    Reading: ("session_lift_id", "run", "flow_typed", "flow_si"),
    Event: ("subject", "subject_id", "verb", "job_id", "note", "changes"),
}
"""The columns written, in the order that references allow; a test's also has its pattern's."""


@dataclass(frozen=True, slots=True)
class ImportedVisit:
    """A head on a job: one known, or one to be recorded with it."""

    visit: PastVisit
    head: RecordedHead
    is_first: bool


class Bulk:
    """Gathers jobs, and writes them a thousand at a time."""

    def __init__(self, db: Session, by: Actor, in_zone: ZoneInfo) -> None:
        self.db = db
        self.by = by
        self.zone = in_zone
        self.waiting: list[tuple[PastJob, datetime, list[ImportedVisit]]] = []
        self.rows: dict[type[Base], list[Row]] = {model: [] for model in NAMES}
        self.keys: dict[type[Base], Iterator[int]] = {}
        self.alike: dict[type[Base], dict[str, Any]] = {
            BenchSession: {"entered_at": by.at, "entered_by_id": by.person_id},
            Event: {"at": by.at, "person_id": by.person_id},
        }
        self.shared: dict[Pattern, dict[str, Any]] = {}
        """For each pattern the columns of its tests that are alike."""

    def add(self, past: PastJob, at: datetime, arrivals: list[ImportedVisit]) -> None:
        """Take a job, booked in and closed at a moment."""
        self.waiting.append((past, at, arrivals))
        if len(self.waiting) == AT_ONCE:
            self.write()

    def write(self) -> None:
        """Write what was gathered."""
        if not self.waiting:
            return
        numbers, self.keys = self._numbers(), self._free_keys()
        for past, at, arrivals in self.waiting:
            self._job(past, at, arrivals, next(numbers[self._year(at)]))
        visits = [row[0] for row in self.rows[Visit]]
        for model, names in NAMES.items():
            # The columns that tests share are the same ones for every pattern.
            shared = next(iter(self.shared.values())) if model is BenchSession else ()
            alike = self.alike.get(model, {})
            insert_rows(self.db, model, (*names, *shared), self.rows[model], **alike)
            self.rows[model] = []
        lookup_text.renew(self.db.connection(), Visit.id.in_(visits))
        self.waiting = []

    def _year(self, at: datetime) -> int:
        return at.astimezone(self.zone).year

    def _numbers(self) -> dict[int, Iterator[int]]:
        """Numbers for the jobs of each year."""
        years = Counter(self._year(at) for _, at, _ in self.waiting)
        return {
            year: iter(next_numbers(self.db, "job", year, count)) for year, count in years.items()
        }

    def _free_keys(self) -> dict[type[Base], Iterator[int]]:
        """Keys for all that other rows refer to."""
        arrivals = [arrival for _, _, arrivals in self.waiting for arrival in arrivals]
        tests = [test for arrival in arrivals for test in arrival.visit.tests]
        counts = {
            Head: sum(arrival.is_first for arrival in arrivals),
            Job: len(self.waiting),
            Visit: len(arrivals),
            BenchSession: len(tests),
            SessionLift: sum(len(test.cells) for test in tests),
        }
        return {model: iter(free_keys(self.db, model, count)) for model, count in counts.items()}

    def _job(self, past: PastJob, at: datetime, arrivals: list[ImportedVisit], number: int) -> None:
        key, name = next(self.keys[Job]), booking.numbered(self._year(at), number)
        closed = jobs.past_values(at)
        row = (key, name, past.number, past.customer.row.id, at, *closed.values())
        self.rows[Job].append(row)
        self._log(Job, key, "booked in", key)
        for position, arrival in enumerate(arrivals, start=1):
            if arrival.is_first:
                self._head(arrival.head, past, at)
            visit, tag = next(self.keys[Visit]), booking.tag_of(name, position)
            self.rows[Visit].append((visit, key, arrival.head.key, position, tag))
            self._log(Visit, visit, "taken in", key, gettext("label {tag}", tag=tag))
            for test, test_key in self._tests(arrival.visit, visit):
                note = sessions.in_the_log(test.side, test.stage, tag)
                self._log(BenchSession, test_key, "tested", key, note)
        changes = {name: ["", audit_log.in_words(value)] for name, value in closed.items()}
        self._log(Job, key, "moved", key, changes=changes)

    def _head(self, head: RecordedHead, past: PastJob, at: datetime) -> None:
        head.key = next(self.keys[Head])
        self.rows[Head].append((head.key, past.engine.row.id, *head.values.values()))
        self.rows[HeadOwner].append((head.key, past.customer.row.id, at))
        self._log(Head, head.key, "added", None)

    def _tests(self, visit: PastVisit, key: int) -> Iterator[tuple[Test, int]]:
        """The tests of a head, each with its key, once their rows are made."""
        moments = [sessions.measured(test.measured_at, self.zone) for test in visit.tests]
        order = sorted(range(len(moments)), key=lambda index: moments[index]["measured_at"])
        in_order = [visit.tests[index] for index in order]
        curves = (
            ((test.side, test.cylinder), test.curve, test.pattern.document.set_up)
            for test in in_order
        )
        summary = dict(zip(order, summaries.summarized(curves), strict=True))
        engine = visit.job.engine.name
        for index, test in enumerate(visit.tests):
            test_key = next(self.keys[BenchSession])
            named = (engine, identity(test.casting))
            own = (test_key, key, test.key, *named, test.stage, test.cylinder, test.operator)
            worked_out = (*moments[index].values(), *summary[index].values())
            row = (*own, test.notes, *worked_out, *self._shared(test.pattern).values())
            self.rows[BenchSession].append(row)
            self._readings(test, test_key)
            yield test, test_key

    def _shared(self, pattern: Pattern) -> dict[str, Any]:
        if pattern not in self.shared:
            values = sessions.values(self.db, self.by, pattern.document)
            columns = in_columns(BenchSession, values)
            own = {*NAMES[BenchSession], *self.alike[BenchSession]}
            self.shared[pattern] = {name: columns[name] for name in columns if name not in own}
        return self.shared[pattern]

    def _readings(self, test: Test, key: int) -> None:
        keys = list(islice(self.keys[SessionLift], len(test.cells)))
        lifts = zip(keys, test.pattern.lifts, strict=True)
        self.rows[SessionLift] += [(lift, key, *values) for lift, values in lifts]
        self.rows[Reading] += [
            (lift, run, typed, si)
            for lift, cell in zip(keys, test.cells, strict=True)
            for run, typed, si in cell.runs
        ]

    def _log(
        self,
        model: type[Base],
        key: int,
        verb: str,
        job: int | None,
        note: str = "",
        changes: Mapping[str, list[str]] | None = None,
    ) -> None:
        note_written = audit_log.noted(note, "imported")
        self.rows[Event].append((model.__tablename__, key, verb, job, note_written, changes or {}))
