"""Report of one engine type: gains by step, sizes and work of the best heads, their photos."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from datetime import datetime
from math import expm1

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow import documents, sentences
from shopflow.calc.worth import WHOLE
from shopflow.documents.engine_type_report import (
    BestHead,
    EngineTypeReport,
    SideOfType,
    StepGain,
)
from shopflow.files import FileStore
from shopflow.models import BenchSession, EngineType, GainCase, Head, Visit
from shopflow.models.places import SIDES
from shopflow.services.analysis import gains
from shopflow.services.bench import bands, past_tests, sessions
from shopflow.services.bench.bands import Ranked, Ranking
from shopflow.services.bench.past_tests import Wanted
from shopflow.services.forecasting import forecasts, past_cases
from shopflow.services.forecasting.past_cases import PastCase, PastCases
from shopflow.services.forecasting.planned_work import Work
from shopflow.services.paperwork import facts
from shopflow.services.routing import work_orders
from shopflow.texts import gettext, listed, ngettext, spoken
from shopflow.units import pretty_text

MOST_HEADS = 5
"""Best heads of a side that a report lists."""

MOST_PHOTOS = 6


def report(
    db: Session, engine_type: EngineType, at: datetime, store: FileStore | None = None
) -> EngineTypeReport:
    """The report of an engine type; photos come along where their store is given."""
    display = facts.display(db)
    with spoken(display.language):
        sides = tuple(_side(db, engine_type, side) for side in SIDES)
        return EngineTypeReport(
            shop=facts.letterhead(db),
            display=display,
            name=engine_type.title,
            facts=tuple(_facts(engine_type, sides)),
            gains=tuple(_gains(db, engine_type)),
            sides=sides,
            photos=tuple(_photos(db, sides, store)) if store else (),
            made_at=at,
        )


def pictured(db: Session, report: EngineTypeReport) -> list[Visit]:
    """The visits of a report's best heads, each once."""
    return _visits(db, report.sides)


def _facts(engine_type: EngineType, sides: Sequence[SideOfType]) -> Iterator[tuple[str, str]]:
    if engine_type.bore and engine_type.stroke:
        sizes = f"{engine_type.bore} × {engine_type.stroke}"
        yield gettext("Bore × stroke"), pretty_text(sizes)
    yield (
        gettext("Cylinders"),
        gettext(
            "{cylinders}, with {valves} valves each",
            cylinders=engine_type.cylinders,
            valves=engine_type.valves_per_cylinder,
        ),
    )
    for side in sides:
        if side.heads:
            name = gettext("Intake heads") if side.side == "intake" else gettext("Exhaust heads")
            yield name, ngettext("{num} head tested after work", "{num} heads tested after work",
                                 side.heads)  # fmt: skip


def _gains(db: Session, engine_type: EngineType) -> Iterator[StepGain]:
    """Every set of steps that heads of the type went through, fewest steps first."""
    keys = set(
        db.scalars(
            select(GainCase.steps)
            .join(Visit, GainCase.job_head_id == Visit.id)
            .join(Head, Visit.head_id == Head.id)
            .where(Head.engine_type_id == engine_type.id, GainCase.part == WHOLE)
            .distinct()
        )
    )
    works = forecasts.works_of(db, keys)
    past = past_cases.read(db, works.keys())
    for work in sorted(works.values(), key=lambda work: (len(work.kinds), work.name)):
        for side in SIDES:
            gain = _gain(past, work, side, engine_type.id)
            if gain is not None:
                yield gain


def _gain(past: PastCases, work: Work, side: str, engine_type_id: int) -> StepGain | None:
    key = work.steps, side, WHOLE
    own = [case for case in past.other_heads(key) if case.engine_type_id == engine_type_id]
    if not own:
        return None
    interval = past.forecast(key, engine_type_id, None)
    return StepGain(
        key=work.steps,
        steps=work.name,
        side=side,
        heads=len(own),
        seen=_seen(own),
        expected=sentences.forecast_range(interval) if interval else "",
        source=sentences.forecast_source(interval) if interval else "",
    )


def _seen(cases: Sequence[PastCase]) -> str:
    if len(cases) == 1:
        (case,) = cases
        return sentences.log_gain(case.log_gain, case.expanded_uncertainty)
    percents = [100.0 * expm1(case.log_gain) for case in cases]
    return sentences.percent_range(min(percents), max(percents))


def _side(db: Session, engine_type: EngineType, side: str) -> SideOfType:
    """The best heads of a side, each by its best test after work."""
    wanted = Wanted(side=side, stage=past_tests.LAST_OF_PORT)
    ranking = bands.ranking(past_tests.of_engine_types(db, [engine_type], wanted))
    best = _one_a_head(ranking)
    return SideOfType(
        side=side,
        lifts=ranking.lifts,
        heads=len(best),
        best=tuple(
            _best_head(db, place, ranked) for place, ranked in enumerate(best[:MOST_HEADS], start=1)
        ),
    )


def _one_a_head(ranking: Ranking) -> list[Ranked]:
    first: dict[int, Ranked] = {}
    for ranked in ranking.ranked:
        first.setdefault(ranked.result.head_id, ranked)
    return list(first.values())


def _best_head(db: Session, place: int, ranked: Ranked) -> BestHead:
    result = ranked.result
    row: BenchSession = sessions.get(db, result.session_id)
    done = [
        step.operation.kind.name
        for step in bands.what_was_done(db, result)
        if step.operation.kind.cuts_metal
    ]
    over_first = gains.over_first(row)
    gain = over_first.areas.mean if over_first else None
    return BestHead(
        place=place,
        tag=result.tag,
        tested=result.tested,
        mean_flow=ranked.mean_flow,
        peak_flow=result.peak_flow,
        peak_lift=result.peak_lift,
        gain="" if gain is None else sentences.percent(gain),
        valve_diameter=result.valve_diameter,
        valve_count=result.valve_count,
        seat_angle=result.seat_angle,
        throat_ratio=result.throat_ratio,
        port_area=result.setup.port_area,
        steps=listed(list(dict.fromkeys(done))) if done else "",
    )


def _visits(db: Session, sides: Sequence[SideOfType]) -> list[Visit]:
    tags = list(dict.fromkeys(head.tag for side in sides for head in side.best))
    by_tag = {row.tag: row for row in db.scalars(select(Visit).where(Visit.tag.in_(tags)))}
    return [by_tag[tag] for tag in tags if tag in by_tag]


def _photos(
    db: Session, sides: Sequence[SideOfType], store: FileStore
) -> Iterator[documents.Photo]:
    """Photos of the best heads, each with its tag."""
    left = MOST_PHOTOS
    for visit in _visits(db, sides):
        for photo in work_orders.photos(db, visit, store):
            if left == 0:
                return
            left -= 1
            caption = f"{visit.tag}: {photo.caption}" if photo.caption else visit.tag
            yield documents.Photo(caption, photo.image)
