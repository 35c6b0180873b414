"""Past jobs found again: by engine type, casting or customer, with what came of them."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import datetime
from typing import Any

from sqlalchemy import (
    ColumnElement,
    Row,
    Select,
    and_,
    bindparam,
    false,
    or_,
    select,
    true,
    union,
)
from sqlalchemy.orm import Session

from shopflow.models import BenchSession, Customer, EngineType, Head, Job, LookupText, Visit
from shopflow.models.head import identity
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.registry import engine_types as registry_engine_types
from shopflow.services.search.parsed_query import FEWEST_LETTERS, Meaning, read
from shopflow.services.search.question import Question, ask
from shopflow.texts import gettext, translated

Found = Sequence[Row[*tuple[Any, ...]]]
"""Rows of visits found by a search, with the columns shown."""

MOST_WORDS = 6
"""Words of a text that are read one by one at most."""


@dataclass(frozen=True)
class PastJob:
    """One head's visit on a job, and its greatest effective area, shown as flow."""

    job: str
    tag: str
    customer: str
    engine_type: str
    head: str
    booked_in: datetime
    state: str
    stage: str
    best_intake_flow: float | None
    """m3/s at 28 inH2O in the standard air."""

    best_exhaust_flow: float | None
    gain_percent: float | None
    """Gain in mean effective area from the first test to the last, on the side that gained most."""

    gain_side: str = ""
    why: str = ""
    """Reason why the search matched it; empty without a search."""


_SHOWN = (
    select(
        Visit.id, Visit.tag, Job.number, Job.booked_in_at, Job.state, Job.customer_id,
        Job.earlier_number,
        Customer.name, Head.engine_type_id, Head.casting_number, Head.serial,
        EngineType.builder, EngineType.family,
    )
    .join(Visit.job)
    .join(Job.customer)
    .join(Visit.head)
    .join(Head.engine_type)
    .order_by(Job.booked_in_at.desc(), Visit.id)
)  # fmt: skip
"""Columns shown of a visit, newest first."""

_SUMMARIES = (
    select(
        BenchSession.job_head_id,
        BenchSession.side,
        BenchSession.stage,
        BenchSession.peak_area,
        BenchSession.gain_over_first,
    )
    .where(BenchSession.job_head_id.in_(bindparam("stays", expanding=True)), BenchSession.counts)
    .order_by(BenchSession.position, BenchSession.id)
)
"""Stored summaries of these visits' tests, in the order they were made."""


@dataclass(frozen=True)
class Answer:
    """Interpretation of a text, and the jobs that match it, newest first."""

    understood: str
    """Empty where nothing was asked."""

    jobs: list[PastJob]


def past_jobs(db: Session, text: str, limit: int = 50) -> list[PastJob]:
    """Jobs that a text may mean, newest first, each with the reason; see `look_up`."""
    return look_up(db, text, limit).jobs


def look_up(db: Session, text: str, limit: int = 50) -> Answer:
    """Jobs that a text may mean, newest first, each with the reason, and how it was understood.

    Facts in the text ("39 deg", "turbocharged", "2 in intake valve"; see `asked_facts`) are asked
    of the records, and all of them must be so. The rest is read as an engine type's name or
    displacement, the beginning or a part of a casting number, serial, job number or tag, a
    customer's name, slips forgiven, or as words of what was asked for or noted. What matches
    nothing as a whole is read word by word: a job is meant where each word of three letters or
    more matches it ("Ironside Delgadillo").
    """
    text = text.replace("\x00", "").strip()
    if not text:
        return Answer("", [])
    question = ask(db, text)
    if not question.rest:
        return _answer(db, question, [], limit)
    answer = _answer(db, question, [read(db, question.rest)], limit)
    words = [
        word for word in registry_engine_types.pieces(question.rest) if len(word) >= FEWEST_LETTERS
    ]
    if answer.jobs or not words or words == [question.rest] or len(words) > MOST_WORDS:
        return answer
    by_word = _answer(db, question, [read(db, word) for word in words], limit)
    return by_word if by_word.jobs else answer


def of_engine_types(
    db: Session, engine_types: Iterable[EngineType], limit: int = 200
) -> list[PastJob]:
    """Every job on these engine types, newest first."""
    keys = [engine_type.id for engine_type in engine_types]
    rows = _newest_rows(db, [LookupText.engine_type_id.in_(keys)], limit)
    return _past_jobs(db, rows, [""] * len(rows))


def _answer(db: Session, question: Question, meanings: Sequence[Meaning], limit: int) -> Answer:
    """Jobs that have all these facts and match all of these meanings."""
    # Among what goes with the one of least reach, each way by an index of its own.
    ordered = sorted(meanings, key=lambda meaning: meaning.reach)
    rest = [*question.clauses, *(or_(false(), *meaning.ways) for meaning in ordered[1:])]
    ways = ordered[0].ways if ordered else [true()]
    rows = _newest_rows(db, [and_(way, *rest) for way in ways], limit)
    why = ["; ".join(dict.fromkeys(_reasons(db, question, meanings, row))) for row in rows]
    return Answer(_understood(question, meanings), _past_jobs(db, rows, why))


def _understood(question: Question, meanings: Sequence[Meaning]) -> str:
    """Describe how a question was understood, as "Seat angle 39°, any engine"."""
    read_as = [meaning.understood for meaning in meanings] or [gettext("any engine")]
    words = ", ".join([*question.words, *read_as])
    return words[:1].upper() + words[1:]


def _reasons(
    db: Session, question: Question, meanings: Sequence[Meaning], row: Row[*tuple[Any, ...]]
) -> list[str]:
    reasons = [
        meaning.why(row) or meaning.note_of(db.get_one(Visit, row.id)) for meaning in meanings
    ]
    return [*reasons, *question.words]


def _newest_rows(db: Session, ways: Sequence[ColumnElement[bool]], limit: int) -> Found:
    """Visits that match one of these clauses of LookupText, newest first, with the columns
    shown."""
    if not ways:
        return []
    # The newest of all are among the newest of each way.
    newest = union(*(select(_newest(way, limit).subquery().c.job_head_id) for way in ways))
    return db.execute(_SHOWN.where(Visit.id.in_(newest)).limit(limit)).all()


def _newest(way: ColumnElement[bool], limit: int) -> Select[int, datetime]:
    """The newest visits that match a clause, by key and date."""
    return (
        select(LookupText.job_head_id, LookupText.booked_in_at)
        .where(way)
        .order_by(LookupText.booked_in_at.desc(), LookupText.job_head_id)
        .limit(limit)
    )


def _past_jobs(db: Session, rows: Found, reasons: Sequence[str]) -> list[PastJob]:
    sessions = _summaries(db, [row.id for row in rows])
    return [
        _past_job(row, sessions.get(row.id, []), why)
        for row, why in zip(rows, reasons, strict=True)
    ]


@dataclass(frozen=True)
class _Summary:
    side: str
    stage: str
    peak_area: float
    gain: float | None


def _summaries(db: Session, visits: Sequence[int]) -> dict[int, list[_Summary]]:
    """Stored summaries of these visits' tests, in the order they were made."""
    by_visit: dict[int, list[_Summary]] = {}
    for stay_id, side, stage, peak_area, gain in db.execute(_SUMMARIES, {"stays": visits}):
        by_visit.setdefault(stay_id, []).append(_Summary(side, stage, peak_area, gain))
    return by_visit


def _past_job(row: Row[*tuple[Any, ...]], sessions: Sequence[_Summary], why: str) -> PastJob:
    last_gains = {summary.side: summary.gain for summary in sessions if summary.gain is not None}
    best_side = max(last_gains, key=lambda side: last_gains[side], default="")
    return PastJob(
        job=row.number,
        tag=row.tag,
        customer=row.name,
        engine_type=f"{row.builder} {row.family}",
        head=identity(row.casting_number, row.serial),
        booked_in=row.booked_in_at,
        state=translated(row.state),
        stage=sessions[-1].stage if sessions else "",
        best_intake_flow=_best(sessions, "intake"),
        best_exhaust_flow=_best(sessions, "exhaust"),
        gain_percent=last_gains[best_side] * 100 if best_side else None,
        gain_side=best_side,
        why=why,
    )


def _best(sessions: Sequence[_Summary], side: str) -> float | None:
    areas = [item.peak_area for item in sessions if item.side == side]
    return flow_shown(max(areas), side) if areas else None
