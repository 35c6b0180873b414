"""The floor: every open head, where it stands, what it waits for, and how its promise stands."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from sqlalchemy import Row, Select, select
from sqlalchemy.orm import Session

from shopflow.calc.capacity import OpenHours, Outlook, Work, outlooks
from shopflow.models import (
    OPEN_STEP_STATES,
    Customer,
    EngineType,
    Head,
    Hold,
    Job,
    JobState,
    Operation,
    OperationKind,
    OperationState,
    TimeSpent,
    User,
    Visit,
)
from shopflow.models.head import identity
from shopflow.services.jobs.jobs import IN_ORDER, OPEN_JOBS, in_words, stands
from shopflow.services.measuring import limit_checks
from shopflow.services.planning import act_facts, next_act
from shopflow.services.planning.act_facts import grouped
from shopflow.services.planning.next_act import Act

_IN_THE_SHOP = Visit.job_id.in_(OPEN_JOBS)
_OPEN_HEADS = select(Visit.id).where(_IN_THE_SHOP)

_HEADS = (
    select(
        Visit.id, Visit.tag, Job.number, Job.state, Job.promised_on, Customer.id, Customer.name,
        EngineType.id, EngineType.builder, EngineType.family, Head.casting_number, Head.serial,
    )
    .join(Visit.job)
    .join(Job.customer)
    .join(Visit.head)
    .join(Head.engine_type)
    .where(_IN_THE_SHOP)
    .order_by(*IN_ORDER)
)  # fmt: skip
"""Columns read of each head, since a floor of objects takes five times as long."""

_STEPS = (
    select(
        Operation.job_head_id, OperationKind.name, Operation.position, Operation.planned_minutes,
        Operation.state, Operation.id, User.name, User.id,
    )
    .join(Operation.kind)
    .outerjoin(Operation.started_by)
    .where(Operation.job_head_id.in_(_OPEN_HEADS), Operation.state.in_(OPEN_STEP_STATES))
    .order_by(Operation.position)
)  # fmt: skip

_CLOCKED_ON = (
    select(Operation.job_head_id, Operation.id, User.name, User.id)
    .join(TimeSpent.operation)
    .join(TimeSpent.person)
    .where(TimeSpent.ended_at.is_(None))
    .order_by(TimeSpent.started_at, TimeSpent.id)
)


@dataclass(frozen=True, slots=True)
class OpenHead:
    """A head in the shop: the numbers and names it goes by."""

    id: int
    tag: str
    job: str
    state: JobState
    promised_on: date | None
    customer_id: int
    customer: str
    engine_type_id: int
    builder: str
    family: str
    casting_number: str
    serial: str

    @property
    def engine_type(self) -> str:
        """Of which type it is."""
        return f"{self.builder} {self.family}"

    @property
    def identity(self) -> str:
        """Casting number and serial number, which tell the casting from another of its kind."""
        return identity(self.casting_number, self.serial)


@dataclass(frozen=True, slots=True)
class OpenStep:
    """A step still to be done, or started."""

    name: str
    position: int
    minutes: int
    """Planned, in full until it is signed off."""

    state: OperationState
    id: int
    started_by: str | None
    started_by_id: int | None

    @property
    def is_begun(self) -> bool:
        """True where the step was started, even if nobody is clocked on."""
        return self.state is OperationState.STARTED


@dataclass(frozen=True, slots=True)
class ExtraWork:
    """A step found to be needed that the customer has not approved."""

    step_id: int
    is_quoted: bool
    """True where the customer has it in the job's last quote."""


@dataclass(frozen=True, slots=True)
class FloorRow:
    """One open head, and where it stands."""

    head: OpenHead
    steps: Sequence[OpenStep]
    """Steps that remain, in their order."""

    where: str
    outlook: Outlook
    waits: Sequence[Hold]
    """Holds not ended, the longest first."""

    is_late: bool
    asks_customer: bool
    """True where a decision awaits the customer's answer."""

    clocked_on: Sequence[tuple[int, str]]
    """Users clocked on, by step."""

    worker_ids: frozenset[int]
    """Their keys."""

    extras: Sequence[ExtraWork]
    acts: Sequence[Act]
    """Acts that it is ready for, the next one first."""

    @property
    def next_step(self) -> OpenStep | None:
        """The first step not yet done or left out."""
        return self.steps[0] if self.steps else None

    @property
    def workers(self) -> list[str]:
        """Names of those clocked on to it."""
        return [name for _, name in self.clocked_on]

    @property
    def to_quote(self) -> list[str]:
        """Names of the extra work that the counter has to quote."""
        keys = {extra.step_id for extra in self.extras if not extra.is_quoted}
        return [step.name for step in self.steps if step.id in keys]

    @property
    def questions(self) -> int:
        """Number of questions for the counter to ask the customer."""
        return int(self.asks_customer) + len(self.to_quote)

    @property
    def at_risk(self) -> bool:
        """True where the promise is at risk and not broken yet."""
        return self.outlook.at_risk and not self.is_late


def rows(db: Session, hours: OpenHours, today: date, minute: int = 0) -> list[FloorRow]:
    """Every head in the shop: late ones, then those at risk, then the rest, each as promised.

    Heads are planned in the order of their promised dates, those of higher priority first; `minute`
    is that of the day in the shop. The number of queries does not depend on the number of heads.
    """
    heads = [OpenHead(*row) for row in _columns(db, _HEADS)]
    steps = grouped((head, OpenStep(*step)) for head, *step in _columns(db, _STEPS))
    clocked_on = grouped((head, tuple(rest)) for head, *rest in _columns(db, _CLOCKED_ON))
    loaded = act_facts.load(db, _OPEN_HEADS)
    facts = act_facts.of_visits(db, _OPEN_HEADS, loaded)
    works = [_work(head, steps[head.id], loaded.holds[head.id]) for head in heads]
    floor_rows = [
        FloorRow(
            head,
            steps[head.id],
            _state_in_words(head, steps[head.id], clocked_on[head.id], loaded.stopped[head.id]),
            outlook,
            loaded.holds[head.id],
            _is_late(head, today),
            limit_checks.asks_customer(loaded.stopped[head.id]),
            [(step, name) for step, name, _ in clocked_on[head.id]],
            frozenset(person for *_, person in clocked_on[head.id]),
            [ExtraWork(*extra) for extra in loaded.extras[head.id]],
            next_act.of_head(facts[head.id]),
        )
        for head, outlook in zip(heads, outlooks(works, hours, today, minute), strict=True)
    ]
    return sorted(floor_rows, key=lambda row: 0 if row.is_late else 1 if row.at_risk else 2)


def _columns(db: Session, query: Select[*tuple[Any, ...]]) -> Sequence[Row[*tuple[Any, ...]]]:
    return db.execute(query).all()


def _work(head: OpenHead, steps: Iterable[OpenStep], waits: Iterable[Hold]) -> Work:
    """Remaining work on a head; none once the customer can have it."""
    minutes = 0 if head.state is JobState.READY else sum(step.minutes for step in steps)
    expected = [wait.expected_on for wait in waits if wait.expected_on]
    return Work(minutes, head.promised_on, max(expected, default=None))


def _state_in_words(
    head: OpenHead,
    steps: Sequence[OpenStep],
    clocked_on: Iterable[tuple[int, str, int]],
    looked_at: Iterable[Operation],
) -> str:
    if not steps:
        return stands(head.state, "", looked_at)
    step = steps[0]
    is_worked_on = any(key == step.id for key, *_ in clocked_on)
    next_step = in_words(step.name, is_begun=step.is_begun, is_worked_on=is_worked_on)
    return stands(head.state, next_step, looked_at)


def _is_late(head: OpenHead, today: date) -> bool:
    promised = head.promised_on
    return promised is not None and promised < today and head.state is not JobState.READY
