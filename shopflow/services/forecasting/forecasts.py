"""Forecasts as they stand now: of a head's planned steps, of an engine type, and each in full."""

from __future__ import annotations

from collections.abc import Collection, Sequence
from dataclasses import dataclass

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from shopflow.calc.forecast import Forecast
from shopflow.calc.worth import WHOLE
from shopflow.errors import NotFoundError
from shopflow.models import EngineType, GainCase, Head, OperationKind, Visit
from shopflow.models.places import SIDES
from shopflow.services.forecasting import past_cases, planned_work
from shopflow.services.forecasting.past_cases import PastCases
from shopflow.services.forecasting.planned_work import Work
from shopflow.texts import gettext

PARTS = (WHOLE, "low", "mid", "high")


@dataclass(frozen=True)
class WorkForecast:
    """The forecast of a set of steps on one side of a head, over the whole lift."""

    work: Work
    side: str
    interval: Forecast


@dataclass(frozen=True)
class InFull:
    """A forecast with every case it is from."""

    work: Work
    side: str
    part: str
    engine_type: EngineType
    interval: Forecast | None
    """None where the cases are too few to say anything."""

    cases: tuple[GainCase, ...]
    """The earliest first, each with its visit, head and engine type."""


def of_visits(db: Session, visits: Sequence[Visit]) -> dict[int, list[WorkForecast]]:
    """Forecasts of each head's planned steps, by the key of its visit: two statements for all."""
    plans = planned_work.of_visits(db, visits)
    past = past_cases.read(db, {work.steps for works in plans.values() for work in works})
    return {
        visit.id: _forecasts(past, plans[visit.id], visit.head.engine_type_id, visit.head_id)
        for visit in visits
    }


def of_engine_type(db: Session, engine_type: EngineType) -> list[WorkForecast]:
    """Forecasts of another head of a type, of every set of steps that one of it went through."""
    query = (
        select(GainCase.steps)
        .join(Visit, GainCase.job_head_id == Visit.id)
        .join(Head, Visit.head_id == Head.id)
        .where(Head.engine_type_id == engine_type.id, GainCase.part == WHOLE)
        .distinct()
    )
    works = works_of(db, set(db.scalars(query)))
    past = past_cases.read(db, works.keys())
    in_order = sorted(works.values(), key=lambda work: (len(work.kinds), work.name))
    return _forecasts(past, in_order, engine_type.id, None)


def in_full(
    db: Session,
    steps: str,
    side: str,
    part: str,
    engine_type: EngineType,
    head_id: int | None = None,
) -> InFull:
    """A forecast with its cases, but for those of one head. Raises NotFoundError."""
    work = works_of(db, {steps}).get(steps)
    if work is None or side not in SIDES or part not in PARTS:
        raise NotFoundError(gettext("there is no forecast of this: choose another"))
    past = past_cases.read(db, {steps}, (part,))
    key = (steps, side, part)
    chosen = past.other_heads(key, head_id)
    return InFull(
        work=work,
        side=side,
        part=part,
        engine_type=engine_type,
        interval=past.forecast(key, engine_type.id, head_id),
        cases=tuple(_rows(db, steps, side, part, {case.visit_id for case in chosen})),
    )


def works_of(db: Session, keys: Collection[str]) -> dict[str, Work]:
    """Sets of steps by their keys; those of unknown kinds are left out."""
    wanted = {key: _kinds(key) for key in keys}
    every = {kind for kinds in wanted.values() for kind in kinds}
    rows = db.scalars(select(OperationKind).where(OperationKind.id.in_(sorted(every))))
    kinds = {kind.id: kind for kind in rows}
    return {
        key: Work(tuple(kinds[kind] for kind in of_key))
        for key, of_key in wanted.items()
        if of_key and all(kind in kinds for kind in of_key)
    }


def _kinds(key: str) -> list[int]:
    numbers = key.split("-")
    is_key = all(number.isascii() and number.isdecimal() for number in numbers)
    return [int(number[:9]) for number in numbers] if is_key else []


def _forecasts(
    past: PastCases, works: Sequence[Work], engine_type_id: int, head_id: int | None
) -> list[WorkForecast]:
    """Those of these works that enough cases are on record for."""
    forecasts = []
    for work in works:
        for side in SIDES:
            interval = past.forecast((work.steps, side, WHOLE), engine_type_id, head_id)
            if interval is not None:
                forecasts.append(WorkForecast(work, side, interval))
    return forecasts


def _rows(
    db: Session, steps: str, side: str, part: str, visits: Collection[int]
) -> Sequence[GainCase]:
    visit = joinedload(GainCase.job_head)
    return db.scalars(
        select(GainCase)
        .where(GainCase.steps == steps, GainCase.side == side, GainCase.part == part)
        .where(GainCase.job_head_id.in_(sorted(visits)))
        .order_by(GainCase.saved_at, GainCase.id)
        .options(visit.joinedload(Visit.head).joinedload(Head.engine_type))
    ).all()
