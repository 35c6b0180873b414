"""Past jobs found again: by engine type, casting or customer, with what came of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, false, or_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.models import BenchSession, Customer, EngineType, Head, Job, JobHead
from shopflow.services import engines
from shopflow.services.customers import contains
from shopflow.services.likeness import GOOD_MATCH, bare, bare_column, likeness


@dataclass(frozen=True)
class PastJob:
    """One head's stay on a job, and the best it flowed (m3/s at 28 inH2O)."""

    job: str
    tag: str
    customer: str
    engine_type: str
    head: str
    booked_in: datetime
    state: str
    stage: str
    best_intake_flow: float | None
    best_exhaust_flow: float | None
    gain_percent: float | None
    """Gain in mean flow from the first test to the last, on the side that gained most."""


def past_jobs(db: Session, text: str, limit: int = 50) -> list[PastJob]:
    """Jobs that a text may mean, newest first.

    The text is read as an engine type's name or displacement, the beginning or a part of a
    casting number, serial, job number or tag, or a customer's name, slips forgiven.
    """
    if not text.strip():
        return []
    types = [engine_type.id for engine_type in engines.look_up(db, text)]
    clauses: list[ColumnElement[bool]] = [
        Head.engine_type_id.in_(types) if types else false(),
        Job.customer_id.in_(_customers_called(db, text)),
        *numbers_like(text, Head.casting_number, Head.serial, Job.number, JobHead.tag),
    ]
    return _rows(db, or_(*clauses), limit)


def of_engine_types(
    db: Session, engine_types: Iterable[EngineType], limit: int = 200
) -> list[PastJob]:
    """Every job on these engine types, newest first."""
    keys = [engine_type.id for engine_type in engine_types]
    return _rows(db, Head.engine_type_id.in_(keys), limit)


def _rows(db: Session, clause: ColumnElement[bool], limit: int) -> list[PastJob]:
    query = (
        select(JobHead)
        .join(JobHead.job)
        .join(JobHead.head)
        .where(clause)
        .order_by(Job.booked_in_at.desc(), JobHead.id)
        .limit(limit)
        .options(
            joinedload(JobHead.job).joinedload(Job.customer),
            joinedload(JobHead.head).joinedload(Head.engine_type),
        )
    )
    stays = db.scalars(query).all()
    sessions = _summaries(db, [stay.id for stay in stays])
    return [_past_job(stay, sessions.get(stay.id, [])) for stay in stays]


@dataclass(frozen=True)
class _Summary:
    side: str
    stage: str
    peak_flow: float
    gain: float | None


def _summaries(db: Session, stays: Sequence[int]) -> dict[int, list[_Summary]]:
    """The kept summaries of these stays' sessions, in the order they were made."""
    query = (
        select(
            BenchSession.job_head_id,
            BenchSession.side,
            BenchSession.stage,
            BenchSession.peak_flow,
            BenchSession.gain_over_first,
        )
        .where(BenchSession.job_head_id.in_(stays))
        .order_by(BenchSession.position, BenchSession.id)
    )
    found: dict[int, list[_Summary]] = {}
    for stay_id, side, stage, peak_flow, gain in db.execute(query):
        found.setdefault(stay_id, []).append(_Summary(side, stage, peak_flow, gain))
    return found


def _past_job(stay: JobHead, sessions: Sequence[_Summary]) -> PastJob:
    last_gains = {summary.side: summary.gain for summary in sessions if summary.gain is not None}
    return PastJob(
        job=stay.job.number,
        tag=stay.tag,
        customer=stay.job.customer.name,
        engine_type=stay.head.engine_type.title,
        head=stay.head.identity,
        booked_in=stay.job.booked_in_at,
        state=stay.job.state.value,
        stage=sessions[-1].stage if sessions else "",
        best_intake_flow=_best(sessions, "intake"),
        best_exhaust_flow=_best(sessions, "exhaust"),
        gain_percent=max(last_gains.values()) * 100 if last_gains else None,
    )


def _best(sessions: Sequence[_Summary], side: str) -> float | None:
    return max((item.peak_flow for item in sessions if item.side == side), default=None)


def _customers_called(db: Session, text: str) -> list[int]:
    names = db.execute(select(Customer.id, Customer.name))
    return [key for key, name in names if _is_called(text, name)]


def _is_called(text: str, name: str) -> bool:
    """Whether a name, or one word of it, is what was typed."""
    if len(text.strip()) < 3:
        return False
    if any(likeness(text, part) >= GOOD_MATCH for part in (name, *_long_words(name))):
        return True
    # A slip in the first words of a longer name.
    words = len(text.split())
    return words > 1 and likeness(text, " ".join(name.split()[:words])) >= GOOD_MATCH


def _long_words(name: str) -> list[str]:
    return [word for word in name.split() if len(word) >= 4]


def numbers_like(text: str, *columns: Any) -> list[ColumnElement[bool]]:
    """Clauses for numbers that hold the text, spaces, hyphens and the like left out of account."""
    wanted = bare(text)
    if len(wanted) < 3:
        return []
    return [bare_column(column).like(contains(wanted), escape="\\") for column in columns]
