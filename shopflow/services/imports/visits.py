"""The heads on jobs that a file's rows are of: on record, or past ones to be made."""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeVar

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.errors import NotFoundError
from shopflow.models import EngineType, Head, HeadPlan, Job, Visit
from shopflow.services import fields
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.imports import flows
from shopflow.services.imports.heads import (
    CASTING_COLUMNS,
    HeadKey,
    casting_given,
    head_key,
    on_file,
)
from shopflow.services.imports.parties import ENGINE_COLUMNS, Parties, Party
from shopflow.services.imports.pastjobs import key_of_record
from shopflow.services.imports.planning import checked
from shopflow.services.imports.reading import DATE_ORDERS, Column, Record, Sheet
from shopflow.services.jobs import jobs
from shopflow.services.matching.fuzzy import plain
from shopflow.services.registry import head_layouts, heads
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


@dataclass(frozen=True)
class HeadShape:
    """Shape of a head, on record or to be: all that its places are told from."""

    engine_type: EngineType
    cylinders: str = ""

    @property
    def plan(self) -> HeadPlan | None:
        """Its places; none while the layout of its engine type is not recorded."""
        return self.engine_type.plan(self.cylinders)


@dataclass(eq=False)
class FileJob:
    """A job that rows name: on record, or a past one that the file makes."""

    number: str
    first_row: int
    row: Job | None
    customer: Party | None
    by_position: dict[int, FileHead] = field(default_factory=dict)
    by_casting: dict[HeadKey, FileHead] = field(default_factory=dict)

    @property
    def heads(self) -> list[FileHead]:
        """The heads that the file names, each once, in their order on the job."""
        heads_here = [*self.by_position.values(), *self.by_casting.values()]
        return sorted(dict.fromkeys(heads_here), key=lambda head: head.position or 0)


@dataclass(eq=False)
class FileHead:
    """A head on a job that rows are of, and the days of its rows."""

    job: FileJob
    position: int | None
    engine: Party
    casting: dict[str, Any]
    row: Visit | None = None
    days: list[datetime] = field(default_factory=list)
    is_told: bool = False
    """True where a row has announced that it will be made."""

    @property
    def on_record(self) -> Visit | None:
        """Its visit, where that is on record."""
        return self.row

    @property
    def record(self) -> Visit:
        """Its visit, once all is made."""
        if self.row is None:
            raise NotFoundError(gettext("{head} is not on record yet", head=self.title))
        return self.row

    @property
    def shape(self) -> HeadShape:
        """Its places, before it is on record."""
        if self.row is not None:
            return HeadShape(self.row.head.engine_type, self.row.head.cylinders)
        return HeadShape(engine_to_be(self.engine))

    @property
    def title(self) -> str:
        """The head in words, as "head 1 of job 1842"."""
        if self.row is not None:
            return gettext("head {tag}", tag=self.row.tag)
        return gettext("head {head} of job {job}", head=self.position or 1, job=self.job.number)

    def making(self, words: str, at: datetime | None = None) -> str:
        """Effect of a row of it, after what the first such row makes; notes the row's day."""
        is_first = self.row is None and not self.is_told
        self.is_told = True
        self.days += [at] if at is not None else []
        if not is_first:
            return words
        if self.job.row is None and self.job.customer is not None:
            return gettext(
                "makes {head}, {engine}, of {customer}; {words}",
                head=self.title,
                engine=self.engine.announced(),
                customer=self.job.customer.announced(),
                words=words,
            )
        return gettext(
            "makes {head}, {engine}; {words}",
            head=self.title,
            engine=self.engine.announced(),
            words=words,
        )


@dataclass(eq=False)
class FileEngine:
    """An engine type whose usual springs or seats rows are of."""

    engine: Party
    is_told: bool = False

    @property
    def shape(self) -> HeadShape:
        """Places of its heads."""
        return HeadShape(engine_to_be(self.engine))

    @property
    def on_record(self) -> EngineType | None:
        """The engine type, where it is on record."""
        row: EngineType | None = self.engine.row
        return row

    @property
    def record(self) -> EngineType:
        """The engine type, once all is made."""
        row: EngineType = self.engine.row
        return row

    @property
    def title(self) -> str:
        """Its name."""
        return self.engine.name

    def making(self, words: str, at: datetime | None = None) -> str:
        """Effect of a row of it, after what the first such row makes."""
        is_first = self.engine.is_new and not self.engine.is_told
        if not is_first:
            return words
        return gettext("makes {engine}; {words}", engine=self.engine.announced(), words=words)


Owner = FileHead | FileEngine


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


def engine_to_be(engine: Party) -> EngineType:
    """An engine type on record, or as it will be recorded."""
    if not engine.is_new:
        row: EngineType = engine.row
        return row
    cylinders = int(engine.get("cylinders"))
    valves = int(engine.get("valves_per_cylinder") or 2)
    return EngineType(
        builder=engine.get("builder"),
        family=engine.get("family"),
        cylinders=cylinders,
        valves_per_cylinder=valves,
        **head_layouts.certain(cylinders, valves),
    )


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
        self.parties.make(db, by, [*_parties(wanted), *self.engines])
        # Jobs have their numbers in the order of their days.
        for job in sorted(wanted, key=lambda job: sorted(_days(job))[:1]):
            _make(db, by, self, job)
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


def _parties(wanted: Iterable[FileJob]) -> Iterable[Party]:
    for job in wanted:
        if job.row is None and job.customer is not None:
            yield job.customer
        yield from (head.engine for head in job.heads if head.row is None)


def _days(job: FileJob) -> list[datetime]:
    return [day for head in job.heads for day in head.days]


def _make(db: Session, by: Actor, visits: Visits, job: FileJob) -> None:
    """Book a past job's heads in at the day of its first row, and close it."""
    days = [visits.at(day) for day in _days(job)]
    then = Actor(by.person, min(days, default=by.at))
    used: set[Head] = set()
    for head in job.heads:
        if head.row is None:
            head.row = _taken_in(db, then, visits.castings, head, used)
            used.add(head.row.head)
    if job.row is not None and job.row.is_open and job.row.earlier_number == job.number:
        jobs.close_past(db, Actor(by.person, max(days, default=by.at)), job.row)


def _taken_in(
    db: Session,
    then: Actor,
    castings: dict[HeadKey, list[Head]],
    head: FileHead,
    used: Collection[Head],
) -> Visit:
    job, engine = head.job, head.engine.row
    key = head_key(head.engine, head.casting)
    recorded = next(
        (row for row in castings.get(key, ()) if row not in used and _is_theirs(row, job)), None
    )
    if recorded is not None and recorded.id is None:
        # One that this file made for an earlier job.
        db.flush()
    values = {**head.casting, **({"head_id": recorded.id} if recorded else {})}
    if job.row is not None:
        visit = booking.add_head(db, then, job.row, engine, values, is_past=True)
    else:
        customer = job.customer.row.id if job.customer else None
        form = booking.BookIn(
            heads=[values], customer_id=customer, engine_type_id=engine.id, is_past=True
        )
        job.row = booking.book_in(db, then, form)
        job.row.earlier_number = job.number
        visit = job.row.heads[0]
    if recorded is None:
        castings.setdefault(key, []).append(visit.head)
    return visit


def _is_theirs(head: Head, job: FileJob) -> bool:
    """True where a recorded head is the job's: by its serial, or as one of its customer's."""
    if head.serial:
        return True
    owner = job.row.customer if job.row else job.customer and job.customer.row
    return bool(head.casting_number) and any(term.customer is owner for term in head.owners)


def _jobs_on_file(db: Session) -> dict[str, Job]:
    """Jobs by their number; those imported by the one they had before, and by no other."""
    query = select(Job).options(
        joinedload(Job.customer),
        selectinload(Job.heads).joinedload(Visit.head).joinedload(Head.engine_type),
    )
    rows = list(db.scalars(query))
    own = {row.number: row for row in rows if not row.earlier_number}
    return own | {row.earlier_number: row for row in rows if row.earlier_number}
