"""Past jobs found again: by engine type, casting or customer, with what came of them."""

from __future__ import annotations

import dataclasses
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime

from sqlalchemy import ColumnElement, and_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.models import BenchSession, EngineType, Head, Job, JobHead, LookupText
from shopflow.services import engines
from shopflow.services.meaning import FEWEST_LETTERS, Meaning, read

MOST_WORDS = 6
"""Words of a text that are read one by one at most."""


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

    why: str = ""
    """Why a look-up found it; empty where it was not looked up."""


def past_jobs(db: Session, text: str, limit: int = 50) -> list[PastJob]:
    """Jobs that a text may mean, newest first, each with the reason.

    The text is read as an engine type's name or displacement, the beginning or a part of a
    casting number, serial, job number or tag, a customer's name, slips forgiven, or as words of
    what was asked for or noted. What goes with nothing as a whole is read word by word: a job is
    meant where each word of three letters or more goes with it ("Ironside Delgadillo").
    """
    text = text.replace("\x00", "").strip()
    if not text:
        return []
    found = _meant(db, [read(db, text)], limit)
    words = [word for word in engines.pieces(text) if len(word) >= FEWEST_LETTERS]
    if found or not words or words == [text] or len(words) > MOST_WORDS:
        return found
    return _meant(db, [read(db, word) for word in words], limit)


def _meant(db: Session, meanings: Sequence[Meaning], limit: int) -> list[PastJob]:
    """Jobs that all of these meanings go with."""
    stays = _stays(db, and_(*(meaning.clause for meaning in meanings)), limit)
    return [
        dataclasses.replace(row, why="; ".join(dict.fromkeys(_reasons(meanings, stay))))
        for stay, row in zip(stays, _past_jobs(db, stays), strict=True)
    ]


def _reasons(meanings: Sequence[Meaning], stay: JobHead) -> list[str]:
    return [meaning.why(stay) for meaning in meanings]


def of_engine_types(
    db: Session, engine_types: Iterable[EngineType], limit: int = 200
) -> list[PastJob]:
    """Every job on these engine types, newest first."""
    keys = [engine_type.id for engine_type in engine_types]
    return _past_jobs(db, _stays(db, LookupText.engine_type_id.in_(keys), limit))


def _stays(db: Session, clause: ColumnElement[bool], limit: int) -> Sequence[JobHead]:
    query = (
        select(JobHead)
        .join(LookupText, LookupText.job_head_id == JobHead.id)
        .where(clause)
        .order_by(LookupText.booked_in_at.desc(), JobHead.id)
        .limit(limit)
        .options(
            joinedload(JobHead.job).joinedload(Job.customer),
            joinedload(JobHead.head).joinedload(Head.engine_type),
        )
    )
    return db.scalars(query).all()


def _past_jobs(db: Session, stays: Sequence[JobHead]) -> list[PastJob]:
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
