"""Forecasts: cases as they were truly done, silence below five, no look-ahead, outcomes kept."""

from __future__ import annotations

from datetime import date
from math import log
from zoneinfo import ZoneInfo

import pytest
from sqlalchemy import delete, select
from sqlalchemy.orm import Session

from shopflow.models import EngineType, GainCase, KeptForecast, Visit, steps_key
from shopflow.services import withdrawals
from shopflow.services.actor import Actor
from shopflow.services.bench import missing_cases
from shopflow.services.forecasting import forecasts, kept_forecasts, past_cases, planned_work
from shopflow.services.routing import operations
from shopflow.services.shop.periods import Period
from tests import factories
from tests.past_heads import GAINS, at, cut, flow_test, plan, shop_of_past, sign_off
from tests.services.test_floor import statements

YEAR = Period(date(2025, 1, 1), date(2027, 12, 31), ZoneInfo("UTC"))


@pytest.fixture
def by(db: Session) -> Actor:
    return factories.someone(db)


@pytest.fixture
def engine_type(db: Session, by: Actor) -> EngineType:
    """A type of which six heads were ported."""
    return shop_of_past(db, by)


def cases(db: Session, visit: Visit, part: str = "whole") -> dict[str, GainCase]:
    query = select(GainCase).where(GainCase.job_head_id == visit.id, GainCase.part == part)
    return {row.steps: row for row in db.scalars(query)}


def key(db: Session, *codes: str) -> str:
    return steps_key({operations.kind_by_code(db, code).id for code in codes})


def test_a_case_is_the_gain_of_all_steps_between_two_tests(db: Session, by: Actor) -> None:
    visit = cut(db, by, factories.create_engine_type(db), 1.05, 0, ("seat-cut", "port-work"))
    (steps, case), *none = cases(db, visit).items()
    assert not none
    assert steps == key(db, "seat-cut", "port-work")
    assert case.log_gain == pytest.approx(log(1.05), abs=2e-5)
    assert 0.0 < 2.0 * case.standard_uncertainty < case.expanded_uncertainty * 1.1
    assert set(db.scalars(select(GainCase.part))) == {"whole", "low", "mid", "high"}


def test_ports_of_a_head_are_one_case(db: Session, by: Actor) -> None:
    visit = plan(db, factories.create_engine_type(db))
    for cylinder in "12":
        flow_test(db, at(by, 0), visit, cylinder=cylinder)
    sign_off(db, at(by, 0.1), visit)
    for cylinder, gain in (("1", 1.04), ("2", 1.08)):
        flow_test(db, at(by, 0.2), visit, gain, cylinder)
    (case,) = cases(db, visit).values()
    assert (case.ports, len(case.tests)) == (2, 2)
    assert case.log_gain == pytest.approx((log(1.04) + log(1.08)) / 2.0, abs=2e-5)


def test_a_case_goes_with_its_test_and_comes_back_with_it(db: Session, by: Actor) -> None:
    visit = cut(db, by, factories.create_engine_type(db), 1.05, 0)
    last = visit.sessions[-1]
    withdrawals.withdraw(db, by, last, "wrong valve")
    assert cases(db, visit) == {}
    withdrawals.restore(db, by, last)
    assert len(cases(db, visit)) == 1


def test_a_step_signed_off_late_or_reopened_changes_what_is_credited(
    db: Session, by: Actor
) -> None:
    visit = plan(db, factories.create_engine_type(db), ("seat-cut", "port-work"))
    flow_test(db, at(by, 0), visit)
    seats, ports = visit.operations
    operations.sign_off(db, at(by, 0.1), seats, {"not_measured_because": "on the bench"})
    flow_test(db, at(by, 0.2), visit, 1.05)
    assert set(cases(db, visit)) == {key(db, "seat-cut")}
    operations.reopen(db, at(by, 0.15), seats)
    assert cases(db, visit) == {}
    assert ports.is_open


def test_cases_are_filled_for_a_schema_that_had_none(db: Session, engine_type: EngineType) -> None:
    before = db.execute(select(GainCase.steps, GainCase.part, GainCase.log_gain)).all()
    db.execute(delete(GainCase))
    db.flush()
    db.expire_all()
    missing_cases.fill(db.connection())
    after = db.execute(select(GainCase.steps, GainCase.part, GainCase.log_gain)).all()
    assert len(after) == len(before) == 4 * len(GAINS)
    assert sorted(row.log_gain for row in after) == pytest.approx(
        sorted(row.log_gain for row in before)
    )


def test_planned_steps_have_a_forecast_from_five_heads_on(db: Session, by: Actor) -> None:
    engine_type = shop_of_past(db, by, GAINS[:4])
    visit = plan(db, engine_type)
    assert forecasts.of_visits(db, [visit]) == {visit.id: []}
    cut(db, by, engine_type, GAINS[4], 5)
    (one,) = forecasts.of_visits(db, [visit])[visit.id]
    assert (one.side, one.interval.cases, one.interval.same_group) == ("intake", 5, 5)
    assert one.interval.low < log(1.03) < log(1.062) < one.interval.high


def test_what_several_steps_did_together_forecasts_none_of_them_alone(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    visit = plan(db, engine_type, ("seat-cut", "port-work"))
    (alone,) = forecasts.of_visits(db, [visit])[visit.id]
    assert alone.work.steps == key(db, "port-work")
    for day, gain in enumerate(GAINS, start=10):
        cut(db, by, engine_type, 1.0 + 2.0 * (gain - 1.0), day, ("seat-cut", "port-work"))
    both = forecasts.of_visits(db, [visit])[visit.id]
    assert {work.work.steps for work in both} == {
        key(db, "port-work"),
        key(db, "seat-cut", "port-work"),
    }
    assert alone.interval == next(one.interval for one in both if one.work == alone.work)


def test_a_planned_flow_test_divides_what_is_forecast_together(db: Session) -> None:
    plans = ("seat-cut", "flow-test", "port-work", "resurface")
    visit = plan(db, factories.create_engine_type(db), plans)
    works = {work.steps for work in planned_work.of_visits(db, [visit])[visit.id]}
    assert key(db, "port-work", "resurface") in works
    assert key(db, "seat-cut", "port-work", "resurface") not in works


def test_a_head_is_not_forecast_by_its_own_tests(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    past = db.scalars(select(GainCase).order_by(GainCase.saved_at)).first()
    assert past is not None
    steps, head = past.steps, past.job_head.head
    full = forecasts.in_full(db, steps, "intake", "whole", engine_type, head.id)
    assert len(full.cases) == len(GAINS) - 1
    assert all(case.job_head.head_id != head.id for case in full.cases)


def test_a_forecast_is_kept_when_its_step_is_started_and_never_changed(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    visit = plan(db, engine_type)
    flow_test(db, at(by, 20), visit)
    operations.start(db, at(by, 21), visit.operations[0])
    of_visit = select(KeptForecast).where(KeptForecast.job_head_id == visit.id)
    (kept,) = db.scalars(of_visit.where(KeptForecast.part == "whole"))
    before = (kept.low, kept.high, kept.cases, kept.made_at)
    waiting = kept_forecasts.record(db, YEAR).outcomes[-1]
    assert waiting.is_inside is None
    sign_off(db, at(by, 22), visit)
    flow_test(db, at(by, 23), visit, 1.048)
    cut(db, by, engine_type, 1.30, 24)
    operations.reopen(db, at(by, 25), visit.operations[0])
    operations.start(db, at(by, 26), visit.operations[0])
    db.flush()
    db.refresh(kept)
    assert (kept.low, kept.high, kept.cases, kept.made_at) == before


def test_what_came_is_held_against_the_forecast(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    for day, gain in ((20, 1.048), (30, 1.30)):
        visit = plan(db, engine_type)
        flow_test(db, at(by, day), visit)
        operations.start(db, at(by, day + 1), visit.operations[0])
        sign_off(db, at(by, day + 2), visit)
        flow_test(db, at(by, day + 3), visit, gain)
    record = kept_forecasts.record(db, YEAR)
    # The sixth head of the past had five before it.
    assert [outcome.is_inside for outcome in record.outcomes] == [True, True, False]
    assert (record.inside, len(record.with_outcome)) == (2, 3)
    assert [outcome.row.cases for outcome in record.outcomes] == [5, 6, 7]


def test_a_forecast_made_at_a_moment_knows_no_later_test(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    steps = key(db, "port-work")
    wanted = (steps, "intake", "whole")
    moment = at(by, 4.15).at
    early = past_cases.read(db, {steps}, before=moment)
    assert len(early.other_heads(wanted)) == 4
    cut(db, by, engine_type, 1.3, 30)
    assert past_cases.read(db, {steps}, before=moment).other_heads(wanted) == early.other_heads(
        wanted
    )


def test_statements_are_as_many_whatever_there_is(
    db: Session, by: Actor, engine_type: EngineType
) -> None:
    job = factories.create_job(db, engine_type=engine_type, head_count=3)
    for visit in job.heads:
        factories.create_operation(db, visit, "port-work")
        factories.create_operation(db, visit, "seat-cut")
    db.flush()
    with statements(db) as asked:
        shown = forecasts.of_visits(db, job.heads)
    assert all(len(of_head) == 1 for of_head in shown.values())
    assert len(asked) == 2
