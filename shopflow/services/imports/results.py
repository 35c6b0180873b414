"""Past results from CSV: one row a flow test, its job known by the number it had before."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from itertools import islice

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import BenchSession, Head, Job, Visit
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.imports import flows
from shopflow.services.imports.flows import Air
from shopflow.services.imports.heads import CASTING_COLUMNS, HeadKey, casting_given, head_key
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party
from shopflow.services.imports.pastjobs import (
    PastJob,
    PastVisit,
    RecordedHead,
    identity,
    key_of_record,
)
from shopflow.services.imports.patterns import Test, Tests
from shopflow.services.imports.planning import Action, Plan, already_there, checked, sorted_faults
from shopflow.services.imports.reading import Column, Record, Sheet
from shopflow.services.imports.writing import Writer
from shopflow.services.measuring import plausibility
from shopflow.services.registry import heads
from shopflow.texts import gettext, lazy, ngettext, translated

COLUMNS = (
    Column("job", lazy("Number of the past job in your records. Rows with one number belong to "
           "one job."),
           needed=True),
    Column("customer", lazy("Added if no customer has this name."), needed=True),
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
        "valve diameter": "2.04 in",
        "test pressure": "28 inH2O",
        "flow unit": "cfm",
        "0.100 in": "66.4",
        "0.200 in": "128.9",
        "0.300 in": "178.2",
        "0.400 in": "205.6",
    },
)
CASTING = {"casting_number": "casting number", "serial": "serial"}
OF_ITS_HEAD = tuple(column.name for column in COLUMNS[: -len(flows.COLUMNS)])
"""Columns that say whose head a test is of, and of which job."""

AT_ONCE = 2_000
"""Rows whose tests are calculated together."""

_NUMBER: fields.Specification = {"job": fields.text(required=True, most=60)}


def plan(db: Session, sheet: Sheet, air: Air = Air()) -> Plan:  # noqa: B008
    """Plan the import of a file of past results; `air` applies to rows without their own."""
    reader = Reader(db, sheet, air)
    actions = list(reader.actions())

    def write(db: Session, by: Actor) -> None:
        writer = Writer(db, by, reader.parties, reader.castings)
        writer.write(reader.jobs.values())

    return Plan(actions, sorted_faults(sheet), write)


class Reader:
    """Goes through the rows once, knowing what is on record."""

    def __init__(self, db: Session, sheet: Sheet, air: Air) -> None:
        self.sheet = sheet
        self.parties = Parties(db)
        self.tests = Tests(sheet, air, OF_ITS_HEAD)
        self.jobs: dict[str, PastJob] = {}
        self.visits: dict[tuple[str | None, ...], tuple[PastVisit, dict[str, str]]] = {}
        """By what a row says of its head: the head on its job, its numbers as the row has them."""

        self.rows: dict[str, int] = {}
        self.on_file = _jobs_on_file(db)
        self.tests_on_file = _tests_on_file(db)
        self.castings = _castings_on_file(db)

    def actions(self) -> Iterator[Action]:
        """Effects of the rows without errors; the errors go to the sheet."""
        while records := list(islice(self.sheet.records, AT_ONCE)):
            tests = self.tests.of(records)
            for record, test in zip(records, tests, strict=True):
                action = self._row(record, test)
                if action is not None:
                    yield action

    def _row(self, record: Record, test: Test | None) -> Action | None:
        """Effect of a row; a row with errors has none."""
        own_cells = tuple(map(record.cells.get, OF_ITS_HEAD))
        visit_and_casting = self.visits.get(own_cells) or self._visit(
            record, is_whole=test is not None
        )
        if visit_and_casting is None or test is None:
            return None
        self.visits[own_cells] = visit_and_casting
        visit, test.casting = visit_and_casting
        return self._test(record, visit, test)

    def _visit(self, record: Record, *, is_whole: bool) -> tuple[PastVisit, dict[str, str]] | None:
        """The head a row is of, on its job; None where the row has faults."""
        before = len(self.sheet.faults)
        number = checked(self.sheet, record, _NUMBER, {"job": "job"}).get("job")
        customer = self.parties.customer(self.sheet, record)
        engine = self.parties.engine(self.sheet, record)
        casting = checked(self.sheet, record, heads.SPECIFICATION, CASTING)
        casting_given(self.sheet, record)
        self._refuse_long(record, engine, casting)
        if len(self.sheet.faults) > before or not (number and customer and engine and is_whole):
            return None
        job = self._job(record, number, customer, engine)
        if job is None:
            return None
        key = head_key(engine, casting)
        return job.visits.setdefault(key, PastVisit(job, casting)), casting

    def _refuse_long(self, record: Record, engine: Party | None, casting: dict[str, str]) -> None:
        """Refuse names that a test's own row cannot hold."""
        for column, text in (
            ("builder", engine.name if engine else ""),
            ("serial", identity(casting)),
        ):
            if len(text) > sessions.LONGEST_LINE:
                words = gettext(
                    "'{start}…' comes to more than {longest} characters",
                    start=text[:20],
                    longest=sessions.LONGEST_LINE,
                )
                self.sheet.fault(record.row, column, words)

    def _job(self, record: Record, number: str, customer: Party, engine: Party) -> PastJob | None:
        job = self.jobs.get(number)
        if job is None:
            row = self.on_file.get(number)
            if row is not None and row.customer is not customer.row:
                words = gettext(
                    "job {number} is on record as {recorded}, of {customer}",
                    number=number,
                    recorded=row.number,
                    customer=row.customer.name,
                )
                self.sheet.fault(record.row, "customer", words)
                return None
            job = self.jobs[number] = PastJob(number, record.row, customer, engine, row)
        for column, named, recorded in (
            ("customer", customer, job.customer),
            ("engine type", engine, job.engine),
        ):
            if named is not recorded:
                words = gettext(
                    "job {number} has {name} in row {row}",
                    number=number,
                    name=recorded.name,
                    row=job.first_row,
                )
                at = column if record.get(column) else "builder"
                self.sheet.fault(record.row, at, words)
                return None
        return job

    def _test(self, record: Record, visit: PastVisit, test: Test) -> Action | None:
        job = visit.job
        wrong = plausibility.cylinder(test.cylinder, job.engine.get("cylinders"))
        if wrong:
            self.sheet.fault(record.row, "cylinder", wrong)
            return None
        identity, holds = _marks(job.number, test)
        first = self.rows.setdefault(identity, record.row)
        if first != record.row:
            words = gettext(
                "the same port, side, stage and date of job {number} as in row {row}",
                number=job.number,
                row=first,
            )
            self.sheet.fault(record.row, "stage" if test.stage else "job", words)
            return None
        description = (
            gettext("{side} test {stage}", side=translated(test.side), stage=test.stage)
            if test.stage
            else gettext("{side} test of no stage", side=translated(test.side))
        )
        recorded = self.tests_on_file.get(identity)
        if recorded == holds:
            words = gettext(
                "{test} of past job {number} is on record", test=description, number=job.number
            )
            return Action(record.row, already_there(), words)
        if recorded is not None:
            words = gettext(
                "this test of job {number} is on record with other values: correct it there",
                number=job.number,
            )
            self.sheet.fault(record.row, "job", words)
            return None
        is_new = job.row is None and not job.has_tests
        test.key = identity + holds
        visit.tests.append(test)
        return self._action(record, job, test, is_new=is_new, description=description)

    def _action(
        self, record: Record, job: PastJob, test: Test, *, is_new: bool, description: str
    ) -> Action:
        count = sum([len(cell.typed) for cell in test.cells])
        readings = ngettext("{num} reading", "{num} readings", count)
        if not is_new:
            words = gettext(
                "adds {test}, {readings}, to past job {number}",
                test=description,
                readings=readings,
                number=job.number,
            )
            return Action(record.row, gettext("added to a past job"), words)
        words = gettext(
            "makes past job {number} of {customer}, {engine}: {test}, {readings}",
            number=job.number,
            customer=job.customer.announced(),
            engine=job.engine.announced(),
            test=description,
            readings=readings,
        )
        return Action(record.row, gettext("new past job"), words)


def _marks(number: str, test: Test) -> tuple[str, str]:
    """Keys of a test's identity and of its content; 20 characters each."""
    parts = (
        number,
        test.casting.get("casting_number", ""),
        test.casting.get("serial", ""),
        test.cylinder,
        test.side,
        test.stage,
        str(test.measured_at),
    )
    return _short("\x1f".join(parts)), _short(test.content)


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
        .join(Visit.job)
        .where(Job.earlier_number.is_not(None), BenchSession.entry_key.is_not(None))
    )
    return {key[:20]: key[20:] for key in db.scalars(query) if key and len(key) == 40}


def _castings_on_file(db: Session) -> dict[HeadKey, RecordedHead]:
    """Heads with a serial, by engine type and serial."""
    query = select(Head).where(Head.serial != "").options(selectinload(Head.owners))
    return {key_of_record(head): RecordedHead.of(head) for head in db.scalars(query)}
