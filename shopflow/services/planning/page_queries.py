"""A job, or a head's visit, with all its page shows: as many queries for much as for little."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

from sqlalchemy import bindparam, func, select
from sqlalchemy.orm import Session, joinedload, lazyload, load_only

from shopflow.models import (
    BenchSession,
    Certificate,
    DiscardedTest,
    HandOffNote,
    Head,
    IntegrityTest,
    Job,
    Measurement,
    Operation,
    TestDraft,
    User,
    Visit,
    WarrantyReturn,
)
from shopflow.services.eager_loading import Filling, Seldom
from shopflow.services.jobs.jobs import existing, no_head, no_job
from shopflow.services.registry.engine_types import WITH_LAYOUT

_OF_A_HEAD = (
    joinedload(Visit.head).joinedload(Head.engine_type).options(*WITH_LAYOUT),
    joinedload(Visit.hand_off).options(load_only(HandOffNote.signed_at), lazyload("*")),
)
_BY_NAME = load_only(User.name)

_JOB = (
    select(Job)
    .where(Job.number == bindparam("number"))
    .options(joinedload(Job.customer), joinedload(Job.return_of))
)
_STAY = (
    select(Visit)
    .where(Visit.tag == bindparam("tag"))
    .options(
        *_OF_A_HEAD,
        joinedload(Visit.job).options(joinedload(Job.customer), joinedload(Job.return_of)),
    )
)

_HEADS = Filling(Job.heads, *_OF_A_HEAD)
_RETURNS = Filling(Job.returns, joinedload(WarrantyReturn.job))
_CERTIFICATES = Filling(Job.certificates, joinedload(Certificate.issued_by).options(_BY_NAME))
_LINKS = Filling(Job.links)
_COLLECTIONS = Filling(Job.collections)

_STEPS = Filling(Visit.operations, joinedload(Operation.release))
_STEPS_BY_WHOM = Filling(
    Visit.operations,
    joinedload(Operation.release),
    joinedload(Operation.started_by).options(_BY_NAME),
    joinedload(Operation.signed_off_by).options(_BY_NAME),
)
_STRETCHES = Filling(Operation.stretches)
_FIGURES = Filling(Visit.measurements)
_FIGURES_OF_STEPS = Filling(Operation.measurements)
_DECISIONS = Filling(Measurement.decisions)
_TESTED = Filling(Visit.integrity_tests, joinedload(IntegrityTest.photo))
_TESTED_BY_STEP = Filling(Operation.integrity_tests)
_WITHDRAWN_TESTED = Filling(
    Visit.withdrawn_integrity_tests, joinedload(IntegrityTest.withdrawn_by).options(_BY_NAME)
)
_DECISIONS_ON_TESTS = Filling(IntegrityTest.decisions)
_DRAFTS = Filling(Visit.certificate_drafts)
_SIDES = Filling(Visit.sessions, load_only(BenchSession.job_head_id, BenchSession.side))
_TESTS = Filling(
    Visit.sessions,
    load_only(
        BenchSession.job_head_id,
        BenchSession.after_operation_id,
        BenchSession.stage,
        BenchSession.cylinder,
        BenchSession.side,
        BenchSession.entered_at,
        BenchSession.measured_at,
        BenchSession.mean_area,
        BenchSession.peak_area,
        BenchSession.gain_over_first,
    ),
)
_WITHDRAWN = Filling(
    Visit.withdrawn_sessions, joinedload(BenchSession.withdrawn_by).options(_BY_NAME)
)
_OPEN_TESTS = Filling(Visit.open_tests, joinedload(TestDraft.person).options(_BY_NAME))
_DISCARDED = Filling(
    Visit.discarded_tests, joinedload(DiscardedTest.discarded_by).options(_BY_NAME)
)
_STRUCK = Filling(Visit.struck_measurements, joinedload(Measurement.struck_by).options(_BY_NAME))
_PARTS = Filling(Visit.parts)
_MEASURED = select(func.count(), func.count(Measurement.datum)).where(
    Measurement.job_head_id == bindparam("visit_id"), Measurement.counts
)

MOST_LISTED = 40
"""Measurements listed on a head's page; more are on a page of their own."""
_WAITS = Filling(Visit.waits)
_SELDOM = Seldom(_WITHDRAWN_TESTED, _STRUCK, _WITHDRAWN, _OPEN_TESTS, _DRAFTS)
_SELDOM_ON_A_HEAD = Seldom(*_SELDOM.fillings, _DISCARDED, _PARTS, _WAITS)


def job(db: Session, number: str) -> Job:
    """The job with this number. Raises NotFoundError."""
    row = existing(db.scalars(_JOB, {"number": number}).one_or_none(), no_job(number))
    for filling in (_RETURNS, _CERTIFICATES, _LINKS, _COLLECTIONS):
        filling.fill(db, [row])
    visits = _HEADS.fill(db, [row])
    _work(db, visits, _STEPS.fill(db, visits), visits)
    _SELDOM.fill(db, visits)
    _SIDES.fill(db, visits)
    return row


@dataclass(frozen=True)
class Measured:
    """Number of measurements of a head that count, and of the port sections among them."""

    count: int
    sections: int

    @property
    def is_listed(self) -> bool:
        """True where they are few enough to be listed on the head's page."""
        return self.count <= MOST_LISTED


def visit(db: Session, tag: str) -> tuple[Visit, Measured]:
    """The visit of the head that carries this tag, its measurements loaded where they are listed.

    Raises NotFoundError.
    """
    row = existing(db.scalars(_STAY, {"tag": tag}).one_or_none(), no_head(tag))
    measured = Measured(*db.execute(_MEASURED, {"visit_id": row.id}).one())
    steps = _STEPS_BY_WHOM.fill(db, [row])
    _work(db, [row], steps, [row] if measured.is_listed else [])
    _SELDOM_ON_A_HEAD.fill(db, [row])
    _TESTS.fill(db, [row])
    return row, measured


def with_measurements(db: Session, tag: str) -> Visit:
    """The visit of the head that carries this tag, with all its measurements.

    Raises NotFoundError.
    """
    row = existing(db.scalars(_STAY, {"tag": tag}).one_or_none(), no_head(tag))
    _DECISIONS.fill(db, _FIGURES.fill(db, [row]))
    _FIGURES_OF_STEPS.fill(db, _STEPS.fill(db, [row]))
    return row


def _work(
    db: Session, visits: Sequence[Visit], steps: Sequence[Operation], listed: Sequence[Visit]
) -> None:
    """Load the work on heads and their steps that both pages show, and what was measured.

    Measurements of heads that are not listed are those of their steps alone.
    """
    _STRETCHES.fill(db, steps)
    figures = _FIGURES.fill(db, listed)
    of_steps = _FIGURES_OF_STEPS.fill(db, steps)
    _DECISIONS.fill(db, figures if listed else of_steps)
    _DECISIONS_ON_TESTS.fill(db, _TESTED.fill(db, visits))
    _TESTED_BY_STEP.fill(db, steps)
