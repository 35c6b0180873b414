"""Past results of an engine type: which are meant, their band, their ranks, the best's work."""

from __future__ import annotations

import numpy as np
import pytest
from scipy.interpolate import PchipInterpolator
from sqlalchemy.orm import Session

from shopflow.models import EngineType, Operation, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import bands, past_tests
from shopflow.services.bench.hints import hints_on, other_side
from shopflow.services.bench.past_tests import LAST_OF_PORT, Result, wanted_from
from shopflow.services.measuring import measurements
from shopflow.services.registry import engine_types
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US
from tests.services.expecting import faults_at

BARE = INTAKE_US.replace('throat_diameter = "1.530 in"\n', "").replace(
    'stem_diameter = "0.2750 in"\nseat_angle = "45 deg"\nseat_width = "0.060 in"\n', ""
).replace('[port]\narea = "1.72 in2"\n', "")  # fmt: skip


def at(text: str, day: int, **changes: str) -> str:
    """A session file measured on a day of March 2025, with some of it changed."""
    for old, new in changes.items():
        text = text.replace(old, new)
    title = f"measured_at = 2025-03-{day:02d}T10:00:00+00:00\nside ="
    return text.replace(EXHAUST_SI.split("\n")[3] + "\n", "").replace("side =", title)


@pytest.fixture
def kind(db: Session) -> EngineType:
    """The engine type that is asked about, and a relative of it."""
    factories.create_engine_type(db, builder="Hollin", family="Comet late")
    return factories.create_engine_type(db, builder="Hollin", family="Comet")


@pytest.fixture
def visits(db: Session, kind: EngineType) -> list[Visit]:
    """Three heads of the type, and one of its relative, each tested before and after."""
    late = engine_types.look_up(db, "Comet late")[0]
    rows = []
    for day, engine_type in enumerate((kind, kind, kind, late), start=1):
        visit = factories.create_visit(
            db, engine_type=engine_type, purpose="drag" if day == 2 else "street"
        )
        factories.create_session(db, visit, at(INTAKE_US, day, **{"140.5": f"{139 + day}.0"}))
        step = factories.create_operation(db, visit, "seat-cut", instructions="39 degrees")
        factories.create_session(
            db, visit, at(AFTER_US, day + 10, **{"154.5": f"{150 + day}.0"}), after=step
        )
        factories.create_session(db, visit, at(EXHAUST_SI, day), after=step)
        rows.append(visit)
    return rows


def results_of(db: Session, kind: EngineType, **wanted: object) -> list[Result]:
    kin = [kind, *engine_types.relatives(db, kind)]
    return past_tests.of_engine_types(db, kin, wanted_from({"side": "intake", **wanted}))


def test_tests_of_the_type_and_its_relatives_come_latest_first(
    db: Session, kind: EngineType, visits: list[Visit]
):
    rows = results_of(db, kind)
    assert [row.tested.day for row in rows] == [14, 13, 12, 11, 4, 3, 2, 1]
    assert {row.engine_type for row in rows} == {"Hollin Comet", "Hollin Comet late"}
    assert {row.side for row in rows} == {"intake"}
    assert [row.as_received for row in rows] == [False] * 4 + [True] * 4


def measure(
    db: Session, by: Actor, step: Operation, code: str, side: str, value: str, when: str = "after"
) -> None:
    """A figure that a step left behind."""
    kind = measurements.kind_by_code(db, code)
    values = {"side": side, "value": value, "when": when}
    measurements.record(db, by, step.job_head, kind.id, values, step)


NARROWED = [
    ({"side": "exhaust"}, [4, 3, 2, 1]),
    ({"stage": "as received, state unknown"}, [4, 3, 2, 1]),
    ({"stage": "seat cut"}, [14, 13, 12, 11]),
    ({"stage": LAST_OF_PORT}, [14, 13, 12, 11]),
    ({"stage": "no such stage"}, []),
    ({"purpose": "drag"}, [12, 2]),
    ({"since": "2025-03-03", "until": "2025-03-12"}, [12, 11, 4, 3]),
    ({"least_valve": "1.732 in", "most_valve": "44 mm"}, [14, 13, 12, 11, 4, 3, 2, 1]),
    ({"least_valve": "44 mm"}, []),
    ({"most_valve": "43.9 mm"}, []),
]


@pytest.mark.parametrize(("wanted", "days"), NARROWED)
def test_they_are_narrowed_down(
    db: Session, kind: EngineType, visits: list[Visit], wanted: dict[str, str], days: list[int]
):
    # 1.732 in is 43.9928 mm.
    assert [row.tested.day for row in results_of(db, kind, **wanted)] == days


def test_a_day_is_the_shops_day(db: Session, kind: EngineType):
    visit = factories.create_visit(db, engine_type=kind)
    factories.create_session(db, visit, at(INTAKE_US, 9).replace("T10:00", "T03:00"))
    # 3:00 UTC is the evening before in Chicago.
    assert len(results_of(db, kind, since="2025-03-08", until="2025-03-08")) == 1
    assert results_of(db, kind, since="2025-03-09") == []


@pytest.mark.parametrize(
    ("values", "key"),
    [
        ({"side": "top"}, "side"),
        ({"purpose": "flying"}, "purpose"),
        ({"since": "soon"}, "since"),
        ({"since": "2025-03-02", "until": "2025-03-01"}, "until"),
        ({"least_valve": "44"}, "least_valve"),
        ({"least_valve": "44 mm", "most_valve": "1.7 in"}, "most_valve"),
    ],
)
def test_what_cannot_be_asked_is_told_at_its_field(values: dict[str, str], key: str):
    with faults_at(key):
        wanted_from({"side": "intake", **values})


def test_areas_are_the_same_whatever_pressure_flow_is_stated_at(db: Session, kind: EngineType):
    visit = factories.create_visit(db, engine_type=kind)
    ten = INTAKE_US.replace("[uncertainty]", "").replace(
        "calibration_factor", 'reference_pressure = "10 inH2O"\ncalibration_factor'
    )
    for text in (INTAKE_US, ten[: ten.index("calibration = ")] + ten[ten.index("[readings]") :]):
        factories.create_session(db, visit, text)
    item, other = results_of(db, kind)
    assert item.areas == pytest.approx(other.areas, rel=1e-12)
    assert item.peak_area == pytest.approx(max(item.areas))
    # In SI by hand: 103.591 m3/s for each m2 at 28 inH2O in air of 1.204 kg/m3, intake.
    assert item.peak_flow == pytest.approx(103.591 * max(item.areas), rel=1e-5)


def test_the_band_is_numpys_quartiles_of_the_tests(
    db: Session, kind: EngineType, visits: list[Visit]
):
    band = bands.band_for(db, kind, "intake", "as received, state unknown")
    (point,) = [point for point in band.points if point.x == pytest.approx(7.5e-3)]
    values = [
        PchipInterpolator((0.0, *row.lifts), (0.0, *row.areas))(7.5e-3)
        for row in results_of(db, kind, stage="as received, state unknown")
    ]
    wanted = np.percentile(values, [0, 25, 50, 75, 100], method="linear")
    got = (point.least, point.lower_quartile, point.median, point.upper_quartile, point.greatest)
    assert got == pytest.approx(tuple(wanted), rel=1e-9)
    assert (band.heads, point.count) == (4, 4)
    drawn, of_a_test = band.past_band(), band.past_band(50.0)
    assert drawn is not None
    assert of_a_test is not None
    assert drawn.middle[0] == pytest.approx(103.591 * band.firm[0].median, rel=1e-5)
    # Behind a test it is in that test's own air, at its own pressure.
    assert of_a_test.middle[0] == pytest.approx(50.0 * band.firm[0].median)


def test_a_band_can_leave_out_the_head_on_the_bench_and_needs_three_heads(
    db: Session, kind: EngineType, visits: list[Visit]
):
    without = bands.band_for(db, kind, "intake", "seat cut", but_tag=visits[0].tag, over="L/D")
    assert without.heads == 3
    assert without.past_band() is not None
    few = bands.band_for(db, kind, "intake", "no such stage")
    assert (few.heads, few.points, few.past_band()) == (0, (), None)
    two = bands.band_of(results_of(db, kind, purpose="drag"), "intake", "")
    assert two.points
    assert two.past_band() is None


def test_tests_are_ranked_over_the_lifts_all_have(
    db: Session, kind: EngineType, visits: list[Visit]
):
    ranking = bands.ranking(results_of(db, kind))
    # From the later sessions' first lift, 0.06 in, to 0.45 in, which both have.
    assert ranking.lifts == pytest.approx((0.06 * 0.0254, 0.45 * 0.0254))
    places = [ranked.place for ranked in ranking.ranked]
    assert places == sorted(places)
    means = [ranked.mean for ranked in ranking.ranked]
    assert means == sorted(means, reverse=True)
    assert ranking.best is not None
    assert ranking.best.result.tag == visits[3].tag
    assert bands.ranking([]) == bands.Ranking(None, ())


def test_a_head_tested_three_times_counts_once_in_a_band_with_its_latest(
    db: Session, kind: EngineType, visits: list[Visit]
):
    for day, flow in ((21, "170.0"), (22, "180.0")):
        factories.create_session(
            db, visits[0], at(AFTER_US, day, **{"154.5": flow}), after=visits[0].operations[0]
        )
    found_now = results_of(db, kind, stage="seat cut")
    band = bands.band_of(found_now, "intake", "seat cut")
    assert (len(found_now), band.heads, max(point.count for point in band.points)) == (6, 4, 4)
    latest = bands.latest_of_heads(found_now)
    assert [row.tested.day for row in latest] == [22, 14, 13, 12]


def test_without_lifts_in_common_the_peak_ranks(db: Session, kind: EngineType):
    visit = factories.create_visit(db, engine_type=kind)
    lone = INTAKE_US[: INTAKE_US.index("lift = [")]
    for lift, flow in ((0.1, 50.0), (0.2, 100.0)):
        factories.create_session(db, visit, f"{lone}lift = [{lift}]\nflow = [[{flow}]]\n")
    ranking = bands.ranking(results_of(db, kind))
    assert ranking.lifts is None
    (first,), (second,) = (ranked.result.lifts for ranked in ranking.ranked)
    assert (first, second) == pytest.approx((0.2 * 0.0254, 0.1 * 0.0254))


def test_what_was_done_tells_steps_and_figures_before_and_after(
    db: Session, kind: EngineType, machinist: Actor
):
    visit = factories.create_visit(db, engine_type=kind)
    step = factories.create_operation(db, visit, "port-work", instructions="Bowls only")
    later = factories.create_operation(db, visit, "assembly")
    measure(db, machinist, step, "port area", "intake", "1022 mm2", "before")
    measure(db, machinist, step, "port area", "intake", "1074 mm2")
    first = factories.create_session(db, visit, at(INTAKE_US, 1))
    factories.create_session(db, visit, at(AFTER_US, 2), after=step)
    after, before = results_of(db, kind)
    (done,) = bands.what_was_done(db, after)
    assert done.operation is step
    assert done.operation is not later
    assert done.figures == (("Port area", "intake", "1022 mm²", "1074 mm²"),)
    assert before.session_id == first.id
    assert bands.what_was_done(db, before) == []


def test_sizes_are_the_sessions_own_else_those_measured_before_it(
    db: Session, kind: EngineType, machinist: Actor
):
    visit = factories.create_visit(db, engine_type=kind)
    step = factories.create_operation(db, visit, "seat-cut")
    for code, side, value in (
        ("seat angle", "intake", "39 deg"),
        ("throat diameter", "intake", "1.5 in"),
        ("port area", "intake", "1.70 in2"),
        ("port area", "intake", "1.60 in2"),
        ("port area", "exhaust", "1.0 in2"),
    ):
        measure(db, machinist, step, code, side, value)
    factories.create_session(db, visit, at(BARE, 1))
    factories.create_session(db, visit, at(BARE, 2), after=step)
    factories.create_session(db, visit, at(INTAKE_US, 3), after=step)
    own, measured, nothing = results_of(db, kind)
    assert own.seat_angle == 45.0
    # 1.530 in over 1.732 in, by hand.
    assert own.throat_ratio == pytest.approx(0.883372, abs=1e-6)
    assert measured.seat_angle == 39.0
    assert measured.throat_ratio == pytest.approx(1.5 / 1.732)
    # The smaller of two sections.
    assert measured.mean_velocity == pytest.approx(measured.mean_flow / (1.60 * 0.0254**2))
    assert (nothing.seat_angle, nothing.throat_ratio, nothing.mean_velocity) == (None, None, None)


def test_hints_take_the_other_side_that_followed_the_same_step(
    db: Session, kind: EngineType, visits: list[Visit]
):
    first, last, exhaust = sorted(visits[0].sessions, key=lambda row: row.id)
    assert other_side(last) is exhaust
    assert other_side(exhaust) is last
    assert other_side(first) is None
    assert "exhaust against intake" in {hint.place for hint in hints_on(db, last)}
    assert "exhaust against intake" not in {hint.place for hint in hints_on(db, first)}


def test_the_latest_are_taken_where_there_are_many(
    db: Session, kind: EngineType, visits: list[Visit], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.setattr(past_tests, "MOST", 3)
    assert [row.tested.day for row in results_of(db, kind)] == [14, 13, 12]


def test_stages_are_named_as_written(db: Session, kind: EngineType, visits: list[Visit]):
    assert past_tests.stages(db, [kind]) == [
        "after “Cut seats”", "as received, state unknown", "seat cut",
    ]  # fmt: skip
