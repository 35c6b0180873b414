"""Forecasts of air and power, their ranges, and what customers report: rules, and what is kept."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.calc.monte_carlo import Interval
from shopflow.errors import RuleError, ValidationError
from shopflow.models import EngineForecast, EngineResult, Fuel, Induction, Job, PowerAt, Visit
from shopflow.services.actor import Actor
from shopflow.services.engine import cams, engine_results, engine_view, ranges, through_cam
from shopflow.services.engine.ranges import ENDS, RangeSet
from shopflow.units import SI, US_CUSTOMARY, Quantity
from tests import factories
from tests.factories import BY
from tests.optional import present
from tests.services.test_through_cam import CUT, SURE
from tests.unit.camfile.documents import CAM

DYNAMOMETER = {
    "day": "2026-05-12", "kind": "dynamometer", "power": "210 hp", "power_at": "crankshaft",
    "speed": "6400 rpm", "fuel": "gasoline", "notes": "",
}  # fmt: skip


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head on a job of a natural engine on gasoline, with a cam and a flow test."""
    visit = factories.create_visit(db)
    visit.job.fuel = "pump gasoline"
    for text in (SURE, CUT):
        factories.create_session(db, visit, text)
    factories.create_cam(db, visit.job, CAM.replace("intake_pressure", "# intake_pressure"))
    return visit


def saved(db: Session, visit: Visit, by: Actor = BY) -> EngineForecast:
    tests = {side: through_cam.suggested(visit, side) for side in through_cam.SIDES}
    return through_cam.save_forecast(db, by, visit, through_cam.on_offer(db, visit)[0], tests)


def later(by: Actor, days: int = 1) -> Actor:
    return replace(by, at=by.at + timedelta(days=days))


def ends_of(held: RangeSet, **changes: str) -> dict[str, Any]:
    ends = {
        f"{name}_{end}": quantity.text
        for name, pair in held.ends.items()
        for end, quantity in zip(ENDS, pair, strict=True)
    }
    return ends | changes


@pytest.mark.parametrize("fuel", Fuel)
@pytest.mark.parametrize("induction", Induction)
@pytest.mark.parametrize("units", [SI, US_CUSTOMARY])
def test_every_shipped_set_has_ends_in_order_and_a_power_within_reason(
    fuel: Fuel, induction: Induction, units: Any
) -> None:
    """Common practice, no source: 3.2 to 6.5 kg of air for a kWh at the crankshaft."""
    held = ranges.shipped(fuel, induction, units)
    assert set(held.ends) == set(ranges.NAMES)
    for low, high in held.ends.values():
        assert 0.0 < low.si < high.si
    middle = [held.range(name) for name in ("air_fuel", "consumption")]
    air = 1.0
    for each in middle:
        air *= (each.low + each.high) / 2.0
    assert 3.2 < air * 3.6e6 < 6.5


@pytest.mark.parametrize(
    ("typed", "fuel"),
    [
        ("gasoline, 93 octane", Fuel.GASOLINE), ("Petrol", Fuel.GASOLINE),
        ("98 RON", Fuel.GASOLINE),
        ("E85", Fuel.ETHANOL), ("ethanol blend, 85 %", Fuel.ETHANOL), ("Methanol", Fuel.METHANOL),
        ("diesel", Fuel.DIESEL), ("", None), ("hydrogen", None), ("methanolic", None),
    ],
)  # fmt: skip
def test_a_fuel_is_told_by_the_words_typed(db: Session, typed: str, fuel: Fuel | None) -> None:
    visit = factories.create_visit(db)
    visit.job.fuel, visit.head.engine_type.fuel = typed, ""
    assert ranges.fuel_of(visit.job) is fuel


def test_the_shop_s_ranges_go_before_those_shipped_and_a_job_s_before_both(
    db: Session, visit: Visit
) -> None:
    job = visit.job
    first = ranges.of_job(db, job, Fuel.GASOLINE)
    assert first.row is None
    row = ranges.save(db, BY, first, ends_of(first, filling_low="85 %", source="runs"))
    second = ranges.of_job(db, job, Fuel.GASOLINE)
    assert (second.row, second.range("filling").low, second.source) == (row, 0.85, "runs")
    assert ranges.of_shop(db, Fuel.DIESEL, Induction.NATURAL).row is None
    own = ranges.save(db, BY, second, ends_of(second, filling_low="95 %"), job)
    assert ranges.of_job(db, job, Fuel.GASOLINE).row is own
    assert ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL).row is row
    ranges.remove(db, BY, ranges.of_job(db, job, Fuel.GASOLINE), job)
    ranges.remove(db, BY, ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL))
    with pytest.raises(RuleError, match="not set here"):
        ranges.remove(db, BY, ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL))


@pytest.mark.parametrize(
    ("field", "typed", "words"),
    [
        ("index_low", "0.9", ""), ("filling_high", "", "required"),
        ("air_fuel_low", "many", "not a number"), ("pressure_low", "1 kPa", "out of range"),
        ("temperature_low", "15 kPa", "unit of pressure"), ("index_high", "1e9", "out of range"),
    ],
)  # fmt: skip
def test_ranges_out_of_order_or_reason_are_refused_at_their_field(
    db: Session, visit: Visit, field: str, typed: str, words: str
) -> None:
    held = ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL)
    with pytest.raises(ValidationError) as caught:
        ranges.save(db, BY, held, ends_of(held, **{field: typed}))
    (fault,) = caught.value.faults
    assert fault.key == ("index_high" if field == "index_low" else field)
    assert (words or "swap the two") in fault.message


def test_wider_ranges_give_a_wider_forecast(db: Session, visit: Visit) -> None:
    held = ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL)
    before = present(saved(db, visit).power_high)
    ranges.save(db, BY, held, ends_of(held, filling_high="115 %"))
    assert present(saved(db, visit).power_high) > 1.05 * before


def view_of(db: Session, visit: Visit) -> Any:
    cam = cams.document(through_cam.on_offer(db, visit)[0])
    return engine_view.view(db, visit, cam, present(through_cam.suggested(visit, "intake").after))


def test_what_is_not_on_record_is_named_and_nothing_assumed(db: Session, visit: Visit) -> None:
    visit.job.fuel = visit.head.engine_type.fuel = ""
    view = view_of(db, visit)
    assert view.potential is not None
    assert view.potential.power is None
    assert "enter the fuel on the job" in view.missing[-1]
    visit.job.induction = Induction.TURBOCHARGED
    view = view_of(db, visit)
    assert (view.potential, view.is_boosted) == (None, True)
    assert "enter the boost on the job" in view.missing[-1]
    with pytest.raises(RuleError, match="no forecast to save"):
        saved(db, visit)


def test_boost_gives_air_in_proportion_to_the_pressure(db: Session, visit: Visit) -> None:
    plain = view_of(db, visit).potential
    visit.job.boost = Quantity("100 kPa", 100e3)
    more = view_of(db, visit).potential
    # 97 to 102.5 kPa without it: twice the pressure within the width of that range.
    assert more.air.median / plain.air.median == pytest.approx(2.0, abs=0.05)


def test_a_saved_forecast_never_changes(db: Session, visit: Visit) -> None:
    row = saved(db, visit)
    kept = (row.power_low, row.power_high, row.ranges)
    held = ranges.of_shop(db, Fuel.GASOLINE, Induction.NATURAL)
    ranges.save(db, BY, held, ends_of(held, filling_high="115 %"))
    db.flush()
    assert (row.power_low, row.power_high, row.ranges) == kept
    assert present(engine_results.saved_of(db, visit)).made_at == BY.at


def test_a_result_is_set_against_the_last_forecast_before_it(db: Session, visit: Visit) -> None:
    job, row = visit.job, saved(db, visit)
    power = f"{present(row.power_median):.0f} W"
    engine_results.add(db, later(BY), job, DYNAMOMETER | {"power": power})
    saved(db, visit, later(BY, 2))
    (told,) = engine_results.reported(db, job)
    assert told.is_inside is True
    assert told.forecast == Interval(
        present(row.power_low), present(row.power_median), present(row.power_high)
    )
    (outcome,) = engine_results.outcomes(db)
    assert (outcome.forecast, outcome.is_inside) == (row, True)


def test_nothing_looks_ahead_and_wheels_are_no_crankshaft(db: Session, visit: Visit) -> None:
    job = visit.job
    engine_results.add(db, BY, job, DYNAMOMETER)
    saved(db, visit, later(BY))
    engine_results.add(db, later(BY, 2), job, DYNAMOMETER | {"power_at": "wheels"})
    first, second = engine_results.reported(db, job)
    assert (first.forecast, second.power) == (None, None)
    assert engine_results.outcomes(db) == []
    assert engine_results.record_of([]) is None


def add(db: Session, job: Job, **changes: str) -> EngineResult:
    return engine_results.add(db, BY, job, DYNAMOMETER | changes)


def test_a_result_is_changed_and_discarded_and_the_log_says_so(db: Session, visit: Visit) -> None:
    row = add(db, visit.job)
    engine_results.change(db, BY, row, {"notes": "pulled well", "power_at": "wheels"})
    assert (row.notes, row.power_at) == ("pulled well", PowerAt.WHEELS)
    with pytest.raises(ValidationError, match="power"):
        engine_results.change(db, BY, row, {"power": "", "notes": ""})
    db.rollback()


@pytest.mark.parametrize(
    ("field", "typed"),
    [("day", ""), ("kind", "moon"), ("power", "-5 hp"), ("elapsed_time", "0 s"), ("boost", "5 s")],
)
def test_slips_are_refused_at_their_field(
    db: Session, visit: Visit, field: str, typed: str
) -> None:
    with pytest.raises(ValidationError) as caught:
        add(db, visit.job, **{field: typed})
    assert [fault.key for fault in caught.value.faults] == [field]


def test_a_result_says_something(db: Session, visit: Visit) -> None:
    with pytest.raises(ValidationError, match="enter a power, a time, a speed or notes"):
        add(db, visit.job, power="")
    add(db, visit.job, power="", elapsed_time="11.4 s")
    assert engine_results.reported(db, visit.job)[0].figures[0] == "at 6400 rpm"


def test_discarding_leaves_the_rest(db: Session, visit: Visit) -> None:
    row, other = add(db, visit.job), add(db, visit.job, kind="track")
    engine_results.discard(db, BY, row)
    assert engine_results.of_job(db, visit.job) == [other]
