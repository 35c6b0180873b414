"""The floor: every open head, where it stands, what it waits for, and how its promise stands."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from sqlalchemy import select
from sqlalchemy.orm import Session, contains_eager, joinedload, load_only, selectinload

from shopflow.calc.capacity import OpenHours, Outlook, Work, outlooks
from shopflow.models import (
    CLOSED_STATES,
    Customer,
    EngineType,
    Head,
    Job,
    JobHead,
    JobState,
    Measurement,
    Operation,
    OperationKind,
    Person,
    Wait,
)
from shopflow.services import waits
from shopflow.services.engines import NAME_ONLY
from shopflow.services.jobs import where_it_stands

_ON_THE_FLOOR = (
    load_only(JobHead.tag),
    contains_eager(JobHead.job)
    .load_only(Job.number, Job.state, Job.promised_on, Job.priority)
    .joinedload(Job.customer)
    .load_only(Customer.name),
    joinedload(JobHead.head)
    .load_only(Head.casting_number, Head.serial)
    .joinedload(Head.engine_type)
    .options(*NAME_ONLY),
    selectinload(JobHead.operations).options(
        load_only(Operation.position, Operation.state, Operation.planned_minutes),
        selectinload(Operation.measurements).selectinload(Measurement.decisions),
        joinedload(Operation.kind).load_only(OperationKind.name),
        joinedload(Operation.started_by).load_only(Person.name),
    ),
    selectinload(JobHead.waits),
)
"""All that is read for a row of the floor."""


@dataclass(frozen=True)
class FloorRow:
    """One open head, and where it stands."""

    visit: JobHead
    where: str
    outlook: Outlook
    waits: list[Wait]
    """What it waits for now, the longest first."""

    is_late: bool

    @property
    def job(self) -> Job:
        """The job it is here on."""
        return self.visit.job

    @property
    def customer(self) -> Customer:
        """Whose it is."""
        return self.job.customer

    @property
    def head(self) -> Head:
        """The casting."""
        return self.visit.head

    @property
    def engine_type(self) -> EngineType:
        """Of which type it is."""
        return self.head.engine_type

    @property
    def promised_on(self) -> date | None:
        """The day it is promised for."""
        return self.job.promised_on

    @property
    def at_risk(self) -> bool:
        """Whether its promise is in danger and not broken yet."""
        return self.outlook.at_risk and not self.is_late


def rows(db: Session, hours: OpenHours, today: date, minute: int = 0) -> list[FloorRow]:
    """Every head in the shop: late ones, then those at risk, then the rest, each as promised.

    Heads are reckoned to be done in the order they are promised in, those of higher priority
    first; `minute` is that of the day in the shop. The number of queries does not depend on how
    many heads there are.
    """
    stays = _open_stays(db)
    found = outlooks([_work(stay) for stay in stays], hours, today, minute)
    made = [_row(stay, outlook, today) for stay, outlook in zip(stays, found, strict=True)]
    return sorted(made, key=lambda row: 0 if row.is_late else 1 if row.at_risk else 2)


def minutes_left(stay: JobHead) -> int:
    """Planned minutes of the steps still open; none once the customer can have it."""
    if stay.job.state is JobState.READY:
        return 0
    return sum(step.planned_minutes for step in stay.operations if step.is_open)


def _open_stays(db: Session) -> Sequence[JobHead]:
    query = (
        select(JobHead)
        .join(JobHead.job)
        .where(Job.state.not_in(CLOSED_STATES))
        .order_by(Job.promised_on.is_(None), Job.promised_on, Job.priority.desc(), JobHead.tag)
        .options(*_ON_THE_FLOOR)
    )
    return db.scalars(query).all()


def _work(stay: JobHead) -> Work:
    expected = [wait.expected_on for wait in waits.still(stay) if wait.expected_on]
    return Work(minutes_left(stay), stay.job.promised_on, max(expected, default=None))


def _row(stay: JobHead, outlook: Outlook, today: date) -> FloorRow:
    job = stay.job
    late = job.promised_on is not None and job.promised_on < today
    return FloorRow(
        visit=stay,
        where=where_it_stands(stay),
        outlook=outlook,
        waits=waits.still(stay),
        is_late=late and job.state is not JobState.READY,
    )
