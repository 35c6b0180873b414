"""The heads on jobs that a file's rows are of: on record, or past ones to be made."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import Head, Job, Visit
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.imports import flows, past_visits
from shopflow.services.imports.file_heads import FileEngine, FileHead, FileJob, Owner
from shopflow.services.imports.heads import (
    CASTING_COLUMNS,
    casting_given,
    head_key,
    on_file,
)
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party
from shopflow.services.imports.pastjobs import key_of_record
from shopflow.services.imports.planning import checked
from shopflow.services.imports.reading import DATE_ORDERS, Column, Record, Sheet
from shopflow.services.matching.fuzzy import plain
from shopflow.services.registry import heads
from shopflow.services.shop.settings import get_shop, zone
from shopflow.texts import gettext, lazy

T = TypeVar("T")

JOB = Column(
    "job",
    lazy(
        "Number of the job; of an imported one, its number in your earlier records. A new number "
        "makes a past job."
    ),
    needed=True,
)
DATE = Column(
    "date",
    lazy("In the chosen date order. A time may follow, for example 2019-05-31 14:30."),
    needed=True,
)
COLUMNS = (
    Column("head", lazy("Counted from 1 on its job. Empty where a number tells it.")),
    Column("customer", lazy("For a new job. Added if no customer has this name.")),
    *ENGINE_COLUMNS,
    *CASTING_COLUMNS,
)
EXAMPLE = {
    "job": "1842",
    "head": "1",
    "customer": "Tarn Marine",
    "builder": "Ironside",
    "family": "342",
    "engine cylinders": "8",
    "casting number": "IR 3420 77",
    "serial": "T1187",
}
CASTING = {"casting_number": "casting number", "serial": "serial"}

_NAMED: fields.Specification = {
    "job": fields.text(required=True, most=60),
    "head": fields.count(least=1),
}


def refuse_difference(
    sheet: Sheet,
    record: Record,
    values: Mapping[str, Any],
    first: tuple[Record, Mapping[str, Any]],
    columns: Mapping[str, str],
) -> None:
    """Add a fault where a row says otherwise than the first of several that are one record."""
    row, stated = first
    for name in sorted(values.keys() | stated.keys()):
        if values.get(name) != stated.get(name):
            words = gettext("differs from row {row}, which it belongs to", row=row.row)
            sheet.fault(record.row, columns[name], words)


def day_of(sheet: Sheet, record: Record) -> datetime | None:
    """Date and time of a row as typed; None with an error."""
    typed = record.get("date")
    at = flows.moment(typed, sheet.writing.date_order) if typed else None
    if at is None and typed:
        example = DATE_ORDERS[sheet.writing.date_order]
        words = gettext("'{typed}' is not a date, as {example}", typed=typed, example=example)
        sheet.fault(record.row, "date", words)
    if at is not None and (words := flows.in_future(at)):
        sheet.fault(record.row, "date", words)
        return None
    return at


class Visits:
    """Heads on jobs by what rows say of them; those that are new are made past ones."""

    def __init__(self, db: Session, sheet: Sheet) -> None:
        self.sheet = sheet
        self.parties = Parties(db)
        self.zone = zone(get_shop(db))
        self.jobs: dict[str, FileJob] = {}
        self.on_file = _jobs_on_file(db)
        self.castings = on_file(db)
        self.engines: dict[Party, FileEngine] = {}
        self._recorded: dict[int, Any] = {}

    def of(self, record: Record) -> FileHead | None:
        """The head on a job that a row is of; None with an error."""
        named = checked(self.sheet, record, _NAMED, {"job": "job", "head": "head"})
        if "job" not in named:
            return None
        job = self._job(record, named["job"])
        if job is None:
            return None
        before = len(self.sheet.faults)
        visit = self._on_record(record, job, named.get("head"))
        if visit is not None or len(self.sheet.faults) > before:
            return visit
        return self._to_be(record, job, named.get("head"))

    def owner(self, record: Record) -> Owner | None:
        """The head on a job that a row is of; its engine type where it names no job."""
        if record.get("job"):
            return self.of(record)
        engine = self.parties.engine(self.sheet, record)
        return None if engine is None else self.engines.setdefault(engine, FileEngine(engine))

    def once(self, head: FileHead, of: Callable[[Visit], T]) -> T | set[Any]:
        """Records of a head, read once; none of one that is to be made."""
        if head.row is None:
            return set()
        if head.row.id not in self._recorded:
            self._recorded[head.row.id] = of(head.row)
        recorded: T = self._recorded[head.row.id]
        return recorded

    def at(self, day: datetime) -> datetime:
        """A moment as typed in the shop's zone, in UTC."""
        return day.replace(tzinfo=self.zone).astimezone(UTC)

    def make(self, db: Session, by: Actor) -> None:
        """Record customers, engine types, jobs and heads that are not on record yet."""
        wanted = [job for job in self.jobs.values() if any(head.row is None for head in job.heads)]
        self.parties.make(db, by, [*past_visits.parties(wanted), *self.engines])
        # Jobs have their numbers in the order of their days.
        for job in sorted(wanted, key=lambda job: sorted(past_visits.days(job))[:1]):
            past_visits.make(db, by, job, self.castings, self.at)
        db.flush()

    def _job(self, record: Record, number: str) -> FileJob | None:
        job = self.jobs.get(number)
        if job is None:
            row = self.on_file.get(number)
            if row is not None and self._is_of_another(record, row):
                return None
            customer = self.parties.customer(self.sheet, record)
            if row is None and customer is None:
                if not record.get("customer"):
                    words = gettext("job {number} is not on record: enter its customer",
                                    number=number)  # fmt: skip
                    self.sheet.fault(record.row, "customer", words)
                return None
            job = self.jobs[number] = FileJob(number, record.row, row, customer)
        elif record.get("customer") and job.row is None:
            customer = self.parties.customer(self.sheet, record)
            if customer is not job.customer:
                words = gettext(
                    "job {number} has {name} in row {row}",
                    number=number,
                    name=job.customer.name if job.customer else "",
                    row=job.first_row,
                )
                self.sheet.fault(record.row, "customer", words)
                return None
        return job

    def _is_of_another(self, record: Record, job: Job) -> bool:
        """True where a job on record is another's than the row's; adds an error then."""
        name = record.get("customer")
        if not name or plain(name) == plain(job.customer.name):
            return False
        words = gettext(
            "job {number} is on record, of {customer}",
            number=record.get("job"),
            customer=job.customer.name,
        )
        self.sheet.fault(record.row, "customer", words)
        return True

    def _on_record(self, record: Record, job: FileJob, position: int | None) -> FileHead | None:
        """The head on a job on record; by its place there, its numbers, or as the only one."""
        if job.row is None:
            return None
        visits = {visit.position: visit for visit in job.row.heads}
        visit = visits.get(position) if position else None
        if visit is None and position is None:
            visit = _alike(record, job.row.heads)
        if visit is None:
            return None
        head = job.by_position.get(visit.position)
        if head is None:
            engine = Party(visit.head.engine_type.title, visit.head.engine_type)
            if self._is_other_engine(record, engine):
                return None
            head = FileHead(job, visit.position, engine, {}, visit)
            job.by_position[visit.position] = head
        return head

    def _is_other_engine(self, record: Record, engine: Party) -> bool:
        """True where a row names another engine type than the head's; adds an error then."""
        if not (record.get("engine type") or record.get("builder")):
            return False
        named = self.parties.engine(self.sheet, record)
        if named is None or named.row is engine.row:
            return named is None
        words = gettext("this head is on record as {engine}", engine=engine.name)
        at = "engine type" if record.get("engine type") else "builder"
        self.sheet.fault(record.row, at, words)
        return True

    def _to_be(self, record: Record, job: FileJob, position: int | None) -> FileHead | None:
        """A head that the file adds to a job; rows that say the same mean the same one."""
        engine = self.parties.engine(self.sheet, record)
        casting = checked(self.sheet, record, heads.SPECIFICATION, CASTING)
        if engine is None or (position is None and not casting_given(self.sheet, record)):
            return None
        if position is not None:
            head = job.by_position.get(position)
            if head is None:
                head = job.by_position[position] = FileHead(job, position, engine, casting)
            return head
        key = head_key(engine, casting)
        head = job.by_casting.get(key)
        if head is None:
            head = job.by_casting[key] = FileHead(job, None, engine, casting)
        return head


def _alike(record: Record, visits: Iterable[Visit]) -> Visit | None:
    """The visit of the casting that a row names; the only one where it names none."""
    typed = {name: record.get(column) for name, column in CASTING.items() if record.get(column)}
    rows = list(visits)
    if not typed:
        return rows[0] if len(rows) == 1 else None
    alike = [
        visit
        for visit in rows
        if head_key(Party("", visit.head.engine_type), typed) == key_of_record(visit.head)
    ]
    return alike[0] if len(alike) == 1 else None


def _jobs_on_file(db: Session) -> dict[str, Job]:
    """Jobs by their number; those imported by the one they had before, and by no other."""
    query = select(Job).options(
        joinedload(Job.customer),
        selectinload(Job.heads).joinedload(Visit.head).joinedload(Head.engine_type),
    )
    rows = list(db.scalars(query))
    own = {row.number: row for row in rows if not row.earlier_number}
    return own | {row.earlier_number: row for row in rows if row.earlier_number}
