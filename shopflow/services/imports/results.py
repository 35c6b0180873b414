"""Past results from CSV: one row a flow test, its job known by the number it had before."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from itertools import islice
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import BenchSession, Head, Job, JobHead
from shopflow.services import booking, events, fields, heads, jobs, sessions
from shopflow.services.actor import Actor
from shopflow.services.imports import flows
from shopflow.services.imports.flows import Air, LiftColumn
from shopflow.services.imports.heads import CASTING_COLUMNS, Known, casting_given, known_by
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party
from shopflow.services.imports.planning import NOTHING, Action, Plan, checked, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.shop import settled, zone
from shopflow.sessionfile import SessionDocument

COLUMNS = (
    Column("job", "Number of the past job in your own records; rows of one job stand on one job.",
           needed=True),
    Column("customer", "Made where nobody has the name.", needed=True),
    *ENGINE_COLUMNS,
    *CASTING_COLUMNS,
    *flows.COLUMNS,
)  # fmt: skip
EXAMPLES = (
    {
        "job": "1842",
        "customer": "Tarn Marine",
        "builder": "Ironside",
        "family": "342",
        "engine cylinders": "8",
        "casting number": "IR 3420 77",
        "serial": "T1187",
        "date": "2019-05-31",
        "cylinder": "1",
        "side": "intake",
        "stage": "as received",
        "valve diameter": "2.02 in",
        "test pressure": "28 inH2O",
        "flow unit": "cfm",
        "0.100 in": "66.4",
        "0.200 in": "128.9",
        "0.300 in": "178.2",
        "0.400 in": "205.6",
    },
)
CASTING = {"casting_number": "casting number", "serial": "serial"}
CONTENT = (
    *("lift_unit", "lifts", "flow_unit", "flows", "head_diameter", "valve_count", "port_area"),
    *("test_pressure", "reference_pressure", "barometer", "temperature", "humidity"),
)
"""What a test brought in again must have the same, to be the same."""

AT_ONCE = 250
"""Jobs written before the log of them is."""

_NUMBER: fields.Specification = {"job": fields.text(required=True, most=60)}


@dataclass(eq=False)
class _Test:
    """One row: a flow test of a head on a past job."""

    record: Record
    document: SessionDocument
    key: str


@dataclass(eq=False)
class _PastJob:
    """A job of the file and its tests, by what their heads are known by."""

    number: str
    first_row: int
    customer: Party
    engine: Party
    row: Job | None
    castings: dict[Known, dict[str, Any]] = field(default_factory=dict)
    tests: dict[Known, list[_Test]] = field(default_factory=dict)

    @property
    def day(self) -> datetime:
        """When its first test was made, as typed."""
        made = [test.document.measured_at for tests in self.tests.values() for test in tests]
        return min(moment for moment in made if moment is not None)


def plan(db: Session, sheet: Sheet, air: Air = Air()) -> Plan:  # noqa: B008
    """What a file of past results would do; `air` holds for the rows that do not give theirs."""
    reader = _Reader(db, sheet, air)
    actions = [action for record in sheet.records if (action := reader.row(record))]

    def carry_out(db: Session, by: Actor) -> None:
        wanted = sorted((job for job in reader.jobs.values() if job.tests), key=lambda job: job.day)
        with events.held(db, by):
            made = (part for job in wanted for part in (job.customer, job.engine))
            reader.parties.make(db, by, made)
        writer = _Writer(db, by, reader.castings)
        remaining = iter(wanted)
        while some := list(islice(remaining, AT_ONCE)):
            with events.held(db, by, "imported"):
                writer.write(some)

    return Plan(actions, sorted_faults(sheet), carry_out)


class _Reader:
    """Goes through the rows once, knowing what is on file."""

    def __init__(self, db: Session, sheet: Sheet, air: Air) -> None:
        self.sheet = sheet
        self.air = air
        self.parties = Parties(db)
        self.lifts: list[LiftColumn] = flows.lift_columns(sheet)
        self.jobs: dict[str, _PastJob] = {}
        self.rows: dict[str, int] = {}
        self.on_file = _jobs_on_file(db)
        self.tests_on_file = _tests_on_file(db)
        self.castings = _castings_on_file(db)

    def row(self, record: Record) -> Action | None:
        """What a row does; nothing of it is kept where it has faults."""
        before = len(self.sheet.faults)
        number = checked(self.sheet, record, _NUMBER, {"job": "job"}).get("job")
        customer = self.parties.customer(self.sheet, record)
        engine = self.parties.engine(self.sheet, record)
        casting = checked(self.sheet, record, heads.SPECIFICATION, CASTING)
        casting_given(self.sheet, record)
        named = {"engine_type": engine.name if engine else "", "head": _identity(casting)}
        document = flows.document(self.sheet, self.lifts, self.air, record, named)
        if len(self.sheet.faults) > before or not (number and customer and engine and document):
            return None
        job = self._job(record, number, customer, engine)
        if job is None:
            return None
        return self._test(record, job, casting, document)

    def _job(self, record: Record, number: str, customer: Party, engine: Party) -> _PastJob | None:
        job = self.jobs.get(number)
        if job is None:
            row = self.on_file.get(number)
            job = _PastJob(number, record.row, customer, engine, row)
            if row is not None and row.customer is not customer.row:
                words = f"job {number} is on file as {row.number}, of {row.customer.name}"
                self.sheet.fault(record.row, "customer", words)
                return None
            self.jobs[number] = job
        for column, said, known in (
            ("customer", customer, job.customer),
            ("engine type", engine, job.engine),
        ):
            if said is not known:
                words = f"job {number} has {known.name} in row {job.first_row}"
                at = column if record.get(column) else "builder"
                self.sheet.fault(record.row, at, words)
                return None
        return job

    def _test(
        self, record: Record, job: _PastJob, casting: dict[str, Any], document: SessionDocument
    ) -> Action | None:
        known = known_by(job.engine, casting)
        identity, content = _marks(job.number, casting, document)
        first = self.rows.setdefault(identity, record.row)
        if first != record.row:
            words = f"the same port, side, stage and date of job {job.number} as in row {first}"
            self.sheet.fault(record.row, "stage" if document.stage else "job", words)
            return None
        said = f"{document.side} test {document.stage or 'of no stage'}".rstrip()
        kept = self.tests_on_file.get(identity)
        if kept == content:
            words = f"{said} of past job {job.number} is on file"
            return Action(record.row, NOTHING, words)
        if kept is not None:
            words = f"this test of job {job.number} is on file with other figures; mend it there"
            self.sheet.fault(record.row, "job", words)
            return None
        is_new = job.row is None and not job.tests
        job.castings.setdefault(known, casting)
        job.tests.setdefault(known, []).append(_Test(record, document, identity + content))
        return self._action(record, job, document, is_new=is_new, said=said)

    def _action(
        self, record: Record, job: _PastJob, document: SessionDocument, *, is_new: bool, said: str
    ) -> Action:
        count = sum(map(len, document.flows))
        readings = f"{count} reading{'s' if count > 1 else ''}"
        if not is_new:
            words = f"adds {said}, {readings}, to past job {job.number}"
            return Action(record.row, "added to a past job", words)
        whose = f"{job.customer.name}{job.customer.news('customer')}"
        engine = f"{job.engine.name}{job.engine.news('engine type')}"
        words = f"makes past job {job.number} of {whose}, {engine}"
        return Action(record.row, "new past job", f"{words}: {said}, {readings}")


class _Writer:
    """Writes past jobs by the shop's own verbs."""

    def __init__(self, db: Session, by: Actor, castings: dict[Known, Head]) -> None:
        self.db = db
        self.by = by
        self.castings = castings
        # Kept at hand: every verb asks for it.
        self.shop = settled(db)
        self.zone = zone(self.shop)

    def write(self, some: list[_PastJob]) -> None:
        """Write jobs, then their tests in one go."""
        tests = [test for past in some for test in self._job(past)]
        sessions.store_all(self.db, self.by, tests)

    def _job(self, past: _PastJob) -> Iterator[tuple[JobHead, SessionDocument, str]]:
        """A past job, booked in when its first test was made, and closed; its tests by head."""
        at = past.day.replace(tzinfo=self.zone).astimezone(UTC)
        then = Actor(self.by.person, at)
        stays = {_known_stay(stay): stay for stay in past.row.heads} if past.row else {}
        for known, tests in past.tests.items():
            # An engine type made just now has its key by now.
            key: Known = known_by(past.engine, past.castings[known])
            if key not in stays:
                stays[key] = self._stay(past, key, past.castings[known], then)
            for test in tests:
                yield stays[key], test.document, test.key
        job = past.row
        if job is not None and job.is_open:
            jobs.close_past(self.db, then, job)

    def _stay(self, past: _PastJob, key: Known, casting: dict[str, Any], then: Actor) -> JobHead:
        given = {**casting, **self._known_head(key)}
        if past.row is not None:
            return booking.add_head(self.db, then, past.row, past.engine.row, given)
        form = booking.BookIn(
            heads=[given], customer_id=past.customer.row.id, engine_type_id=past.engine.row.id
        )
        past.row = booking.book_in(self.db, then, form)
        past.row.earlier_number = past.number
        stay = past.row.heads[0]
        if key[1] == "serial":
            self.castings[key] = stay.head
        return stay

    def _known_head(self, key: Known) -> dict[str, int]:
        """The head that was here before, by its serial; one without is a head of its own."""
        head = self.castings.get(key) if key[1] == "serial" else None
        if head is None:
            return {}
        if head.id is None:
            self.db.flush()
        return {"head_id": head.id}


def _identity(casting: dict[str, Any]) -> str:
    return Head(**casting).identity if casting else ""


def _marks(number: str, casting: dict[str, Any], document: SessionDocument) -> tuple[str, str]:
    """What tells a test from another, and its content from another; 20 characters each."""
    parts = (
        number,
        casting.get("casting_number", ""),
        casting.get("serial", ""),
        document.cylinder,
        document.side,
        document.stage,
        str(document.measured_at),
    )
    said = "\x1f".join(parts)
    content = "\x1f".join(str(getattr(document, name)) for name in CONTENT)
    return _short(said), _short(content)


def _short(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()[:20]


def _jobs_on_file(db: Session) -> dict[str, Job]:
    query = select(Job).where(Job.earlier_number.is_not(None)).options(joinedload(Job.customer))
    return {job.earlier_number: job for job in db.scalars(query) if job.earlier_number}


def _tests_on_file(db: Session) -> dict[str, str]:
    """Content of the tests imported before, by identity: both ride in their entry's key."""
    query = (
        select(BenchSession.entry_key)
        .join(BenchSession.job_head)
        .join(JobHead.job)
        .where(Job.earlier_number.is_not(None), BenchSession.entry_key.is_not(None))
    )
    return {key[:20]: key[20:] for key in db.scalars(query) if key and len(key) == 40}


def _castings_on_file(db: Session) -> dict[Known, Head]:
    """Heads with a serial, by engine type and serial."""
    query = select(Head).where(Head.serial != "").options(selectinload(Head.owners))
    return {_known_head_row(head): head for head in db.scalars(query)}


def _known_stay(stay: JobHead) -> Known:
    return _known_head_row(stay.head)


def _known_head_row(head: Head) -> Known:
    engine = Party("", head.engine_type)
    return known_by(engine, {"serial": head.serial, "casting_number": head.casting_number})
