"""Past cases held out one by one, each forecast from all other heads: a check of the model."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from itertools import islice

from sqlalchemy import select
from sqlalchemy.orm import Session, joinedload

from shopflow.calc.forecast import Forecast
from shopflow.models import EngineType, GainCase, Head, Visit
from shopflow.services.forecasting import forecasts, past_cases
from shopflow.services.forecasting.past_cases import Key, PastCase, PastCases
from shopflow.services.forecasting.planned_work import Work

MOST = 60
"""Latest cases held out on a page."""


@dataclass(frozen=True)
class HeldOut:
    """A case, and what the cases of all other heads forecast of it."""

    work: Work
    side: str
    case: PastCase
    tag: str
    engine_type: EngineType
    interval: Forecast

    @property
    def is_inside(self) -> bool:
        """True where the gain lies in the interval."""
        return self.interval.holds(self.case.log_gain)


def latest(db: Session) -> tuple[HeldOut, ...]:
    """The latest cases of heads that enough others had the same work as, the earliest first.

    A head is forecast from every other, those tested later too: a check of the model, and no
    record of what was said at the time.
    """
    works = forecasts.works_of(db, set(db.scalars(select(GainCase.steps).distinct())))
    chosen = list(islice(_forecast(past_cases.read(db, works.keys())), MOST))[::-1]
    visits = _visits(db, {case.visit_id for _, case, _ in chosen})
    return tuple(
        HeldOut(
            work=works[key[0]],
            side=key[1],
            case=case,
            tag=visits[case.visit_id].tag,
            engine_type=visits[case.visit_id].head.engine_type,
            interval=interval,
        )
        for key, case, interval in chosen
    )


def _forecast(past: PastCases) -> Iterator[tuple[Key, PastCase, Forecast]]:
    """The first case of each head by each set of steps, the latest first, where the others make a
    forecast."""
    cases = [(key, case) for key in past.by_key for case in past.other_heads(key)]
    for key, case in sorted(cases, key=lambda row: row[1].saved_at, reverse=True):
        interval = past.forecast(key, case.engine_type_id, case.head_id)
        if interval is not None:
            yield key, case, interval


def _visits(db: Session, keys: set[int]) -> dict[int, Visit]:
    with_type = joinedload(Visit.head).joinedload(Head.engine_type)
    query = select(Visit).where(Visit.id.in_(keys)).options(with_type)
    return {visit.id: visit for visit in db.scalars(query)}
