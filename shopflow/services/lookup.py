"""Past jobs found again: by engine type, casting or customer, with what came of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import ColumnElement, Row, Select, and_, bindparam, false, or_, select, union
from sqlalchemy.orm import Session

from shopflow.models import BenchSession, Customer, EngineType, Head, Job, JobHead, LookupText
from shopflow.models.head import identity
from shopflow.services import engines
from shopflow.services.meaning import FEWEST_LETTERS, Meaning, read

Found = Sequence[Row[*tuple[Any, ...]]]
"""Rows of stays that were looked up, with what is shown of each."""

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


_SHOWN = (
    select(
        JobHead.id, JobHead.tag, Job.number, Job.booked_in_at, Job.state, Job.customer_id,
        Job.earlier_number,
        Customer.name, Head.engine_type_id, Head.casting_number, Head.serial,
        EngineType.builder, EngineType.family,
    )
    .join(JobHead.job)
    .join(Job.customer)
    .join(JobHead.head)
    .join(Head.engine_type)
    .order_by(Job.booked_in_at.desc(), JobHead.id)
)  # fmt: skip
"""What is shown of a stay, newest first."""

_SUMMARIES = (
    select(
        BenchSession.job_head_id,
        BenchSession.side,
        BenchSession.stage,
        BenchSession.peak_flow,
        BenchSession.gain_over_first,
    )
    .where(BenchSession.job_head_id.in_(bindparam("stays", expanding=True)), BenchSession.counts)
    .order_by(BenchSession.position, BenchSession.id)
)
"""What is kept of these stays' sessions, in the order they were made."""


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


def of_engine_types(
    db: Session, engine_types: Iterable[EngineType], limit: int = 200
) -> list[PastJob]:
    """Every job on these engine types, newest first."""
    keys = [engine_type.id for engine_type in engine_types]
    found = _found(db, [LookupText.engine_type_id.in_(keys)], limit)
    return _past_jobs(db, found, [""] * len(found))


def _meant(db: Session, meanings: Sequence[Meaning], limit: int) -> list[PastJob]:
    """Jobs that all of these meanings go with."""
    # Among what goes with the one of least reach, each way by an index of its own.
    first, *others = sorted(meanings, key=lambda meaning: meaning.reach)
    rest = [or_(false(), *meaning.ways) for meaning in others]
    found = _found(db, [and_(way, *rest) for way in first.ways], limit)
    why = ["; ".join(dict.fromkeys(_reasons(db, meanings, row))) for row in found]
    return _past_jobs(db, found, why)


def _reasons(db: Session, meanings: Sequence[Meaning], row: Row[*tuple[Any, ...]]) -> list[str]:
    return [
        meaning.why(row) or meaning.note_of(db.get_one(JobHead, row.id)) for meaning in meanings
    ]


def _found(db: Session, ways: Sequence[ColumnElement[bool]], limit: int) -> Found:
    """Stays that one of these clauses of LookupText goes with, newest first, with what is shown."""
    if not ways:
        return []
    # The newest of all are among the newest of each way.
    newest = union(*(select(_newest(way, limit).subquery().c.job_head_id) for way in ways))
    return db.execute(_SHOWN.where(JobHead.id.in_(newest)).limit(limit)).all()


def _newest(way: ColumnElement[bool], limit: int) -> Select[int, datetime]:
    """The newest stays that a clause goes with, by key and date."""
    return (
        select(LookupText.job_head_id, LookupText.booked_in_at)
        .where(way)
        .order_by(LookupText.booked_in_at.desc(), LookupText.job_head_id)
        .limit(limit)
    )


def _past_jobs(db: Session, found: Found, reasons: Sequence[str]) -> list[PastJob]:
    sessions = _summaries(db, [row.id for row in found])
    return [
        _past_job(row, sessions.get(row.id, []), why)
        for row, why in zip(found, reasons, strict=True)
    ]


@dataclass(frozen=True)
class _Summary:
    side: str
    stage: str
    peak_flow: float
    gain: float | None


def _summaries(db: Session, stays: Sequence[int]) -> dict[int, list[_Summary]]:
    """The kept summaries of these stays' sessions, in the order they were made."""
    found: dict[int, list[_Summary]] = {}
    for stay_id, side, stage, peak_flow, gain in db.execute(_SUMMARIES, {"stays": stays}):
        found.setdefault(stay_id, []).append(_Summary(side, stage, peak_flow, gain))
    return found


def _past_job(row: Row[*tuple[Any, ...]], sessions: Sequence[_Summary], why: str) -> PastJob:
    last_gains = {summary.side: summary.gain for summary in sessions if summary.gain is not None}
    return PastJob(
        job=row.number,
        tag=row.tag,
        customer=row.name,
        engine_type=f"{row.builder} {row.family}",
        head=identity(row.casting_number, row.serial),
        booked_in=row.booked_in_at,
        state=row.state.value,
        stage=sessions[-1].stage if sessions else "",
        best_intake_flow=_best(sessions, "intake"),
        best_exhaust_flow=_best(sessions, "exhaust"),
        gain_percent=max(last_gains.values()) * 100 if last_gains else None,
        why=why,
    )


def _best(sessions: Sequence[_Summary], side: str) -> float | None:
    return max((item.peak_flow for item in sessions if item.side == side), default=None)
