"""The facts that decide what is next on heads, read in so many queries whatever the heads."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from decimal import Decimal
from functools import cache
from typing import Any, TypeVar

from sqlalchemy import Select, and_, bindparam, exists, or_, select
from sqlalchemy.orm import Session, joinedload, selectinload

from shopflow.models import (
    OPEN_STEP_STATES,
    Bearer,
    Head,
    Hold,
    IntegrityTest,
    Job,
    JobState,
    Measurement,
    Operation,
    OperationKind,
    OperationState,
    Release,
    Visit,
    WaitFor,
    WarrantyReturn,
    When,
)
from shopflow.services.billing import approvals, unsettled
from shopflow.services.measuring import limit_checks
from shopflow.services.planning.next_act import HeadFacts, HoldFacts, Party, StepFacts
from shopflow.services.planning.questions import EXTRAS, OPEN_QUOTE
from shopflow.services.registry.engine_types import WITH_LAYOUT
from shopflow.services.shop.built_in_kinds import figures_by_code

T = TypeVar("T")
Visits = Select[int]
"""A query of the keys of visits; a constant, since statements about it are composed once."""

Params = Mapping[str, int]
NONE: Params = {}
"""Parameters of a query of visits."""

_OF_JOB = select(Visit.id).where(Visit.job_id == bindparam("of_job"))
_FIGURE = Measurement.__table__.c
_LEAVING = (JobState.READY, JobState.COLLECTED, JobState.SHIPPED)

_HEADS = (
    select(
        Visit.id, Visit.tag, Job.id, Job.number, Job.state, Job.version, Job.approved_at,
        WarrantyReturn.borne_by, OPEN_QUOTE.label("open_quote"), Job.is_practice,
        exists().where(Operation.job_head_id == Visit.id).label("has_plan"), Visit.position,
    )
    .join(Visit.job)
    .outerjoin(Job.return_of)
)  # fmt: skip
_STEPS = (
    select(
        Operation.job_head_id, Operation.id, OperationKind.name, OperationKind.cuts_metal,
        Operation.state, Operation.price, Operation.again_because, Release.id,
    )
    .join(Operation.kind)
    .outerjoin(Operation.release)
    .where(Operation.state.in_(OPEN_STEP_STATES))
    .order_by(Operation.position)
)  # fmt: skip
PERHAPS_STOPPED = (
    select(Operation)
    .where(
        or_(
            Operation.measurements.any(
                and_(
                    Measurement.when == When.AFTER,
                    or_(
                        _FIGURE.value_si < _FIGURE.lower_si,
                        _FIGURE.value_si > _FIGURE.upper_si,
                    ),
                )
            ),
            Operation.integrity_tests.any(IntegrityTest.stops),
        ),
    )
    .order_by(Operation.position)
    .options(
        selectinload(Operation.measurements).selectinload(Measurement.decisions),
        selectinload(Operation.integrity_tests).selectinload(IntegrityTest.decisions),
    )
)
"""The few steps with a figure past a limit or a failed test: `limit_checks` says whether that stops
anything."""

_STARTED = (
    select(Operation)
    .where(Operation.state == OperationState.STARTED)
    .options(
        selectinload(Operation.measurements),
        selectinload(Operation.integrity_tests),
        joinedload(Operation.job_head)
        .joinedload(Visit.head)
        .joinedload(Head.engine_type)
        .options(*WITH_LAYOUT),
    )
)


@dataclass(frozen=True)
class Loaded:
    """Rows that the floor shows of heads too, by the keys of their visits."""

    extras: defaultdict[int, list[tuple[int, bool]]]
    """Key of each step of extra work, and whether the customer was offered it."""

    stopped: defaultdict[int, list[Operation]]
    """Steps that may have results to decide on."""

    holds: defaultdict[int, list[Hold]]
    """Holds not ended, the longest first."""


@dataclass(frozen=True)
class _Step:
    """An open step, as a row of columns."""

    key: int
    name: str
    cuts_metal: bool
    state: OperationState
    price: Decimal | None
    again_because: str
    release: int | None

    @property
    def is_started(self) -> bool:
        """True where it is in hand."""
        return self.state is OperationState.STARTED

    @property
    def is_for_approval(self) -> bool:
        """True where it waits for an approval unless it has one."""
        return self.cuts_metal and self.release is None


@dataclass(frozen=True)
class _Statements:
    """Statements about the visits of a query."""

    extras: Select[*tuple[Any, ...]]
    stopped: Select[Operation]
    holds: Select[Hold]
    heads: Select[*tuple[Any, ...]]
    steps: Select[*tuple[Any, ...]]
    started: Select[Operation]


@cache
def _statements(visits: Visits) -> _Statements:
    of_them = Operation.job_head_id.in_(visits)
    return _Statements(
        extras=EXTRAS.where(of_them),
        stopped=PERHAPS_STOPPED.where(of_them),
        holds=select(Hold)
        .where(Hold.job_head_id.in_(visits), Hold.ended_at.is_(None))
        .order_by(Hold.since, Hold.id),
        heads=_HEADS.where(Visit.id.in_(visits)),
        steps=_STEPS.where(of_them),
        started=_STARTED.where(of_them),
    )


def load(db: Session, visits: Visits, params: Params = NONE) -> Loaded:
    """Load the rows that both the floor and the acts are read off."""
    statements = _statements(visits)
    extras = db.execute(statements.extras, params)
    return Loaded(
        grouped((visit, (step, offered)) for visit, step, offered in extras),
        grouped((step.job_head_id, step) for step in db.scalars(statements.stopped, params)),
        grouped((hold.job_head_id, hold) for hold in db.scalars(statements.holds, params)),
    )


def of_job(db: Session, job: Job) -> dict[int, HeadFacts]:
    """Facts of each head of a job, by the key of its visit."""
    params = {"of_job": job.id}
    return of_visits(db, _OF_JOB, load(db, _OF_JOB, params), params)


def of_visits(
    db: Session, visits: Visits, loaded: Loaded, params: Params = NONE
) -> dict[int, HeadFacts]:
    """Facts of each visit among these keys, by its key."""
    statements = _statements(visits)
    # Put in order here: asked to, SQLite goes through every visit of the shop in that order.
    rows_of_heads = db.execute(statements.heads, params)
    heads = sorted(rows_of_heads, key=lambda row: (row[2], row.position))
    rows = db.execute(statements.steps, params)
    steps = grouped((row[0], _Step(*row[1:])) for row in rows)
    started = any(step.is_started for of_head in steps.values() for step in of_head)
    lacking = _lacking(db, db.scalars(statements.started, params)) if started else {}
    jobs = {row[2] for row in heads if steps[row[0]] and steps[row[0]][0].is_for_approval}
    approved = approvals.approved_prices_of(db, jobs) if jobs else {}
    money = unsettled.of_jobs(db, {row[2] for row in heads if row[4] in _LEAVING})
    at_work = {row[2] for row in heads if steps[row[0]]}
    facts = {}
    for row in heads:
        key, tag, job_id, number, state, version, approved_at, borne_by = row[:8]
        stopped = loaded.stopped[key]
        stop = limit_checks.stopping(stopped)
        offered = dict(loaded.extras[key])
        step = next(iter(steps[key]), None)
        needs_approval = step is not None and _needs_approval(
            step,
            approved.get(str(step.key)),
            is_approved=approved_at is not None,
            is_free=borne_by is Bearer.SHOP,
        )
        facts[key] = HeadFacts(
            job=number,
            tag=tag,
            state=state,
            version=version,
            is_practice=row.is_practice,
            is_approved=approved_at is not None,
            has_plan=row.has_plan,
            step=_of_step(
                step,
                lacking,
                needs_approval=needs_approval,
                is_quoted=row.open_quote and offered.get(step.key, True),
            )
            if step
            else None,
            hold=_of_hold(loaded.holds[key]),
            stop=(stop.id, stop.kind.name) if stop is not None else None,
            asks_customer=limit_checks.asks_customer(stopped),
            has_extra_to_quote=not all(offered.values()),
            has_open_quote=approved_at is not None and row.open_quote,
            job_is_done=job_id not in at_work,
            to_invoice=job_id in money and money[job_id].to_invoice,
            owes=job_id in money and money[job_id].owes,
        )
    return facts


def grouped(pairs: Iterable[tuple[int, T]]) -> defaultdict[int, list[T]]:
    """Rows by the key before each; none for a key without any."""
    by_key: defaultdict[int, list[T]] = defaultdict(list)
    for key, row in pairs:
        by_key[key].append(row)
    return by_key


def _of_hold(holds: Sequence[Hold]) -> HoldFacts | None:
    if not holds:
        return None
    hold = holds[0]
    party = Party.CUSTOMER if hold.wait_for is WaitFor.CUSTOMER else Party.SUPPLIER
    return HoldFacts(hold.id, hold.what, party)


def _lacking(db: Session, steps: Iterable[Operation]) -> dict[int, tuple[bool, bool]]:
    """Of each step in hand: true where its test has no result, and where measurements are
    missing."""
    kinds = figures_by_code(db)
    return {
        step.id: (
            step.kind.tests_by is not None and not step.integrity_tests,
            bool(limit_checks.missing(step, kinds)),
        )
        for step in steps
    }


def _needs_approval(
    step: _Step, approved: Decimal | None, *, is_approved: bool, is_free: bool
) -> bool:
    if not step.is_for_approval:
        return False
    return not is_approved or not approvals.covers(
        approved,
        Decimal(0) if is_free else step.price,
        step.price,
        cuts_metal=True,
        is_repeat=bool(step.again_because),
    )


def _of_step(
    step: _Step, lacking: Mapping[int, tuple[bool, bool]], *, needs_approval: bool, is_quoted: bool
) -> StepFacts:
    lacks_test, lacks_measurements = lacking.get(step.key, (False, False))
    return StepFacts(
        step.key,
        step.name,
        is_started=step.is_started,
        needs_approval=needs_approval,
        is_quoted=is_quoted,
        lacks_test=lacks_test,
        lacks_measurements=lacks_measurements,
    )
