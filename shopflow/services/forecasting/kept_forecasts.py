"""Forecasts as they were made, kept when their first step is started, and what came."""

from __future__ import annotations

from dataclasses import dataclass

from sqlalchemy import and_, select
from sqlalchemy.orm import Session, joinedload

from shopflow.calc.forecast import Forecast
from shopflow.calc.worth import WHOLE
from shopflow.models import GainCase, Head, KeptForecast, Operation, Visit
from shopflow.models.places import SIDES
from shopflow.services.actor import Actor
from shopflow.services.forecasting import forecasts, past_cases, planned_work
from shopflow.services.forecasting.forecasts import PARTS
from shopflow.services.forecasting.planned_work import Work
from shopflow.services.shop.periods import Period


@dataclass(frozen=True)
class Outcome:
    """A kept forecast, and the case that came of it where its work was tested."""

    row: KeptForecast
    work: Work | None
    case: GainCase | None

    @property
    def interval(self) -> Forecast:
        """The interval as the model gave it."""
        row = self.row
        return Forecast(row.low, row.median, row.high, row.cases, row.same_type)

    @property
    def is_inside(self) -> bool | None:
        """True where what came lies in the interval; None where nothing came yet."""
        if self.case is None:
            return None
        return self.interval.holds(self.case.log_gain)


@dataclass(frozen=True)
class Record:
    """Kept forecasts of a period, the earliest first."""

    outcomes: tuple[Outcome, ...]

    @property
    def with_outcome(self) -> list[Outcome]:
        """Those whose work was tested."""
        return [outcome for outcome in self.outcomes if outcome.case is not None]

    @property
    def inside(self) -> int:
        """Number of outcomes inside their intervals."""
        return sum(bool(outcome.is_inside) for outcome in self.outcomes)


def keep(db: Session, by: Actor, step: Operation) -> None:
    """Keep the forecasts of all work that a step about to be started belongs to.

    One kept before stays as it is. Only tests saved before this moment count.
    """
    visit = step.job_head
    planned = planned_work.of_visits(db, [visit])[visit.id]
    works = [work for work in planned if step.kind in work.kinds]
    past = past_cases.read(db, {work.steps for work in works}, PARTS, before=by.at)
    if not past.by_key:
        return
    columns = (KeptForecast.steps, KeptForecast.side, KeptForecast.part)
    of_visit = select(*columns).where(KeptForecast.job_head_id == visit.id)
    stored = {tuple(row) for row in db.execute(of_visit)}
    for work in works:
        for side, part in ((side, part) for side in SIDES for part in PARTS):
            key = (work.steps, side, part)
            interval = past.forecast(key, visit.head.engine_type_id, visit.head_id)
            if interval is None or key in stored:
                continue
            db.add(
                KeptForecast(
                    job_head_id=visit.id,
                    steps=work.steps,
                    side=side,
                    part=part,
                    low=interval.low,
                    median=interval.median,
                    high=interval.high,
                    cases=interval.cases,
                    same_type=interval.same_group,
                    made_at=by.at,
                    person_id=by.person_id,
                )
            )


def record(db: Session, period: Period, part: str = WHOLE) -> Record:
    """Forecasts made in a period over a part of the lift, with what came of each."""
    query = (
        select(KeptForecast, GainCase)
        .outerjoin(
            GainCase,
            and_(
                GainCase.job_head_id == KeptForecast.job_head_id,
                GainCase.steps == KeptForecast.steps,
                GainCase.side == KeptForecast.side,
                GainCase.part == KeptForecast.part,
            ),
        )
        .where(KeptForecast.part == part)
        .where(KeptForecast.made_at >= period.begins, KeptForecast.made_at < period.ends)
        .order_by(KeptForecast.made_at, KeptForecast.id)
        .options(
            joinedload(KeptForecast.job_head).joinedload(Visit.head).joinedload(Head.engine_type),
            joinedload(KeptForecast.job_head).joinedload(Visit.job),
        )
    )
    rows = db.execute(query).all()
    works = forecasts.works_of(db, {row.steps for row, _ in rows})
    return Record(tuple(Outcome(row, works.get(row.steps), case) for row, case in rows))
