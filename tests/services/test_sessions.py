"""Bench sessions: kept as typed, read back the same, summed up, with readings left out."""

from __future__ import annotations

import tomllib
from datetime import UTC, datetime, timedelta
from decimal import Decimal

import pytest
from scipy.interpolate import PchipInterpolator
from sqlalchemy import text as sql
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.comparison import compare
from shopflow.calc.reduction import Reduction, reduce
from shopflow.errors import NotFoundError, ValidationError
from shopflow.models import BenchSession, Reading
from shopflow.resources import SEED_DATA
from shopflow.services.actor import Actor
from shopflow.services.bench import benches, calibrations, sessions
from shopflow.services.counter import booking
from tests import factories
from tests.cli.sessions import AFTER_US, ALL, EXHAUST_SI, EXTENDED, INTAKE_US, ONE_LIFT, PERCENT
from tests.optional import present
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

EXCLUDED = """
[[excluded]]
lift = 0.2
run = 2
flow = 90.50
reason = "clay fell off the entry"
[[excluded]]
lift = 0.25
run = 1
flow = 0.4
reason = "valve had not opened"
"""
SEED_SESSIONS = {
    path.name: path.read_text(encoding="utf-8")
    for path in sorted((SEED_DATA / "sessions").glob("*.toml"))
}


def scipys_mean(reduction: Reduction) -> float:
    """Mean effective area over a test's own lifts, by scipy's monotone cubic through no lift."""
    curve = PchipInterpolator((0.0, *reduction.lifts), (0.0, *reduction.effective_area))
    low, high = reduction.lifts[0], reduction.lifts[-1]
    return float(curve.integrate(low, high) / (high - low))


def readings(row: BenchSession) -> list[list[Reading]]:
    """A session's readings, lift by lift."""
    return [list(lift.readings) for lift in row.lifts]


@pytest.mark.slow
@pytest.mark.parametrize(
    "texts", [ALL, EXTENDED, SEED_SESSIONS], ids=["varied", "extended", "the invented shop's"]
)
def test_every_session_reads_back_as_the_document_that_was_stored(
    db: Session, subtests: pytest.Subtests, texts: dict[str, str]
):
    stored = {}
    later = Actor(None, factories.NOW + timedelta(days=365))
    engine_type = factories.create_engine_type(db, cylinders=8)
    visit = factories.create_visit(db, engine_type=engine_type)
    for name, text in texts.items():
        if len(visit.sessions) > 2:
            visit = factories.create_visit(db, engine_type=engine_type)
        stored[name] = factories.create_session(db, visit, text, later).id
    db.flush()
    db.expunge_all()
    assert len(stored) == len(texts)
    for name, key in stored.items():
        with subtests.test(name):
            document = testfile.loads(texts[name])
            answer = sessions.document(sessions.get(db, key))
            assert answer == document
            # Equal numbers may be typed differently; the digits are kept too.
            assert testfile.dumps(answer) == testfile.dumps(document)
            assert testfile.loads(testfile.dumps(answer)) == document


def test_what_was_left_out_goes_back_to_its_place_among_the_runs(db: Session):
    row = factories.create_session(db, text=INTAKE_US + EXCLUDED)
    db.flush()
    db.expire_all()
    assert [str(lift.lift_typed) for lift in row.lifts] == [
        "0.05", "0.1", "0.2", "0.25", "0.3", "0.4", "0.45",
    ]  # fmt: skip
    assert [(str(r.flow_typed), r.excluded) for r in row.lifts[2].readings] == [
        ("101.0", False),
        ("90.50", True),
        ("101.5", False),
        ("100.8", False),
    ]
    document = sessions.document(row)
    assert document == testfile.loads(INTAKE_US + EXCLUDED)
    assert (
        reduce(document.flow_test()).points == reduce(testfile.loads(INTAKE_US).flow_test()).points
    )


def test_a_reading_lies_in_the_database_as_typed_and_in_si(db: Session):
    factories.create_session(db, text=INTAKE_US.replace("47.8", "47.80"))
    answer = db.execute(sql("SELECT flow_typed, flow_si FROM reading WHERE flow_typed = '47.80'"))
    # 1 cfm is (0.3048 m)^3 a minute, by definition.
    assert [tuple(row) for row in answer] == [("47.80", pytest.approx(47.8 * 0.3048**3 / 60))]
    typed, si = db.execute(sql("SELECT barometer_typed, barometer_si FROM bench_session")).one()
    assert (typed, si) == ("29.41 inHg", pytest.approx(29.41 * 3386.389))


def test_it_is_kept_by_whom_when_and_after_what(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit)
    row = factories.create_session(db, visit, by=machinist, after=step)
    assert sessions.get(db, row.id) is row
    assert (row.entered_at, row.entered_by) == (machinist.at, machinist.person)
    assert row.after_operation is step
    assert_logged(db, row, machinist, "tested")
    assert last_entry(db, row).note == f"intake as received {visit.tag}"
    other = factories.create_visit(db)
    with refused("another head's"):
        factories.create_session(db, other, after=step)
    for find in (sessions.get, sessions.get_reading):
        with pytest.raises(NotFoundError):
            find(db, 4711)


@pytest.mark.parametrize(
    ("typed", "moment"),
    [
        ("2026-02-03T09:15:00-06:00", datetime(2026, 2, 3, 15, 15, tzinfo=UTC)),
        ("2026-02-03T15:15:00Z", datetime(2026, 2, 3, 15, 15, tzinfo=UTC)),
        # Without a zone it is the shop's: Chicago, in summer time in July.
        ("2026-02-03T09:15:00", datetime(2026, 2, 3, 15, 15, tzinfo=UTC)),
        ("2025-07-03 09:15:00.250000", datetime(2025, 7, 3, 14, 15, 0, 250_000, tzinfo=UTC)),
    ],
)
def test_the_time_of_the_test_is_kept_as_typed_and_in_utc(
    db: Session, typed: str, moment: datetime
):
    row = factories.create_session(db, text=EXHAUST_SI.replace("2026-02-03T09:15:00-06:00", typed))
    db.flush()
    db.expire(row)
    assert row.measured_at == moment
    assert row.measured_at.utcoffset() == timedelta(0)
    assert sessions.document(row).measured_at == datetime.fromisoformat(typed)


LONG = "0" * 60


@pytest.mark.parametrize(
    ("old", "new", "key"),
    [
        ('title = "Cylinder 2"', f'title = "{"x" * 201}"', "title"),
        ('title = "Cylinder 2"', 'notes = "a \\u0000"', "notes"),
        ('"25 inH2O"', f'"25.{LONG} inH2O"', "bench.test_pressure"),
        ("1.013", f"1.013{LONG}", "calibration_factor"),
        ("[47.8]", f"[47.8{LONG}]", "readings"),
        ("[0.05,", f"[0.05{LONG},", "readings"),
        (
            'title = "Cylinder 2"',
            "measured_at = 0001-01-01T00:00:00+12:00",
            "measured_at",
        ),
    ],
)
def test_what_the_records_cannot_hold_as_typed_is_refused(
    db: Session, old: str, new: str, key: str
):
    assert old in INTAKE_US
    with faults_at(key):
        factories.create_session(db, text=INTAKE_US.replace(old, new))


@pytest.mark.parametrize(
    ("change", "keys"),
    [
        (("run = 2", "run = 5"), ["excluded[1]"]),
        (("lift = 0.25\nrun = 1", "lift = 0.2\nrun = 2"), ["excluded[2]"]),
        (("valve had not opened", "x" * 201), ["excluded[2]"]),
        (("valve had not opened", "\\u0000 x"), ["excluded[2]"]),
    ],
)
def test_a_run_left_out_has_a_place_of_its_own_and_a_reason_that_fits(
    sqlite_db: Session, change: tuple[str, str], keys: list[str]
):
    with faults_at(*keys):
        factories.create_session(sqlite_db, text=INTAKE_US + EXCLUDED.replace(*change))


def test_leaving_a_reading_out_changes_the_summaries_and_is_logged(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    first = factories.create_session(db, visit)
    later = factories.create_session(
        db, visit, AFTER_US, after=factories.create_operation(db, visit)
    )
    before = (first.mean_area, first.peak_area, later.gain_over_first)
    top = readings(first)[-1][1]
    with faults_at("reason"):
        sessions.exclude(db, machinist, top, " ")
    sessions.exclude(db, machinist, top, "clay fell off")
    db.flush()
    db.expire_all()
    assert_logged(
        db, top, machinist, "excluded",
        excluded=["False", "True"], excluded_because=["", "clay fell off"],
    )  # fmt: skip
    without = INTAKE_US.replace("[164.0, 164.4]", "[164.0]")
    reduction = reduce(testfile.loads(without).flow_test())
    assert first.mean_area == pytest.approx(scipys_mean(reduction), rel=1e-12)
    assert first.peak_area == pytest.approx(reduction.effective_area.max(), rel=1e-12)
    assert all(new != old for new, old in zip(
        (first.mean_area, first.peak_area, later.gain_over_first), before, strict=True
    ))  # fmt: skip
    sessions.include(db, machinist, top)
    assert (first.mean_area, first.peak_area, later.gain_over_first) == before
    assert_logged(
        db, top, machinist, "counted again",
        excluded=["True", "False"], excluded_because=["clay fell off", ""],
    )  # fmt: skip


def test_a_whole_lift_can_be_left_out_but_not_the_last_reading(db: Session, machinist: Actor):
    row = factories.create_session(db)
    for reading in readings(row)[2]:
        sessions.exclude(db, machinist, reading, "wrong lift set")
    assert len(sessions.reduction(row).points) == 5
    assert len(sessions.document(row).excluded) == 3
    only = factories.create_session(db, text=ONE_LIFT)
    with refused("only reading"):
        sessions.exclude(db, machinist, readings(only)[0][0], "odd")


def test_a_reading_below_the_leakage_cannot_be_counted_again(db: Session, machinist: Actor):
    row = factories.create_session(db, text=INTAKE_US + EXCLUDED)
    shut = readings(row)[3][0]
    with refused("not above the leakage"):
        sessions.include(db, machinist, shut)
    assert shut.excluded


def test_the_gain_over_the_first_is_what_comparing_the_files_gives(db: Session):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit)
    first = factories.create_session(db, visit, INTAKE_US)
    exhaust = factories.create_session(db, visit, EXHAUST_SI)
    later = factories.create_session(db, visit, AFTER_US, after=step)
    files = [reduce(testfile.loads(text).flow_test()) for text in (INTAKE_US, AFTER_US)]
    percent = compare(*files).mean_area_gain_percent
    assert percent is not None
    assert later.gain_over_first == pytest.approx(percent / 100, rel=1e-12)
    assert (first.gain_over_first, exhaust.gain_over_first) == (None, None)
    assert sessions.compare(first, later) == compare(*files)


def test_sessions_stand_in_the_order_they_were_made_not_entered(db: Session):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit)
    later = factories.create_session(db, visit, AFTER_US, after=step)
    assert later.gain_over_first is None
    first = factories.create_session(db, visit, INTAKE_US)
    db.flush()
    db.expire_all()
    assert [row.id for row in visit.sessions] == [first.id, later.id]
    assert later.gain_over_first is not None
    assert sessions.latest(db, visit) is later


def test_summaries_do_not_depend_on_the_pressure_that_flow_is_stated_at(db: Session):
    ten = INTAKE_US.replace(
        'test_pressure = "25 inH2O"', 'test_pressure = "25 inH2O"\nreference_pressure = "10 inH2O"'
    )
    visit = factories.create_visit(db)
    at_28, at_10 = (factories.create_session(db, visit, text) for text in (INTAKE_US, ten))
    assert at_10.mean_area == pytest.approx(at_28.mean_area, rel=1e-12)
    assert at_10.gain_over_first == pytest.approx(0.0, abs=1e-12)


def test_other_cylinders_are_not_compared(db: Session):
    visit = factories.create_visit(db)
    for cylinder in ("1", "2"):
        text = INTAKE_US.replace('stage = "as', f'cylinder = "{cylinder}"\nstage = "as')
        assert factories.create_session(db, visit, text).gain_over_first is None


def test_percent_of_range_is_a_flow(db: Session):
    row = factories.create_session(db, text=PERCENT)
    cfm = 0.3048**3 / 60
    assert row.lifts[0].readings[0].flow_si == pytest.approx(0.245 * 120 * cfm, rel=1e-12)
    assert row.range is not None
    assert row.range.text == "120 cfm"
    # By hand: q = factor (reading - leakage) of the range, to 28 inH2O by the root.
    top = 0.988 * ((71.9 + 72.3 + 72.0) / 3 - 0.4) / 100 * 120 * cfm * (28 / 10) ** 0.5
    assert sessions.reduction(row).flow.max() == pytest.approx(top, rel=1e-12)


def test_the_shops_own_calibration_is_found_by_bench_and_mark(db: Session, by: Actor):
    bench = factories.create_bench(db, name="north")
    values = {"identifier": "N-7", "expanded_uncertainty": "1.2 %", "made_on": "2025-10-13"}
    recorded = calibrations.calibrate(db, by, bench.ranges[0], values)
    assert factories.create_session(db).calibration is recorded
    unknown = INTAKE_US.replace('"N-7"', '"N-8"')
    row = factories.create_session(db, text=unknown)
    assert (row.calibration, row.calibration_mark) == (None, "N-8")
    elsewhere = INTAKE_US.replace('"north"', '"somebody else\'s"')
    assert factories.create_session(db, text=elsewhere).calibration is None


def test_of_two_ranges_with_one_mark_the_sessions_own_is_found(db: Session, by: Actor):
    bench = benches.create(db, by, {"name": "south", "reading": "percent of range"})
    values = {"identifier": "S-2", "expanded_uncertainty": "1.5 %", "made_on": "2025-10-13"}
    answer = {}
    for size in ("60", "120.0", "240"):
        added = benches.add_range(db, by, bench, {"name": size, "full_scale": f"{size} cfm"})
        answer[size] = calibrations.calibrate(db, by, added, values)
    assert factories.create_session(db, text=PERCENT).calibration is answer["120.0"]


def test_the_latest_session_of_a_head_is_found_over_its_jobs(db: Session, by: Actor):
    visit = factories.create_visit(db)
    assert sessions.latest(db, visit) is None
    row = factories.create_session(db, visit)
    form = booking.BookIn(customer_id=visit.job.customer_id, heads=[{"head_id": visit.head_id}])
    again = booking.book_in(db, by, form).heads[0]
    assert sessions.latest(db, again) is row


def test_digits_survive_that_no_float_holds(db: Session):
    typed = "47.800000000000000000000001"
    row = factories.create_session(db, text=INTAKE_US.replace("47.8", typed))
    db.flush()
    db.expire_all()
    assert sessions.document(row).flows[1] == (Decimal(typed),)


def test_seed_sessions_are_all_here():
    assert len(SEED_SESSIONS) >= 40
    assert all(tomllib.loads(text)["schema"] == 1 for text in SEED_SESSIONS.values())
    assert any("[[excluded]]" in text for text in SEED_SESSIONS.values())


SIDE = 'side = "exhaust"'


@pytest.mark.parametrize(
    ("old", "new", "key", "words"),
    [
        ("2026-02-03T09:15", "2031-03-14T09:15", "measured_at", "'2031-03-14' is in the future"),
        (SIDE, f'{SIDE}\ncylinder = "99"', "cylinder", "'99' is not"),
        (SIDE, f'{SIDE}\ncylinder = "0 left"', "cylinder", "'0 left' is not"),
    ],
)
def test_a_test_of_the_future_or_of_no_cylinder_is_refused_at_its_field(
    db: Session, old: str, new: str, key: str, words: str
):
    with pytest.raises(ValidationError) as caught:
        factories.create_session(db, text=EXHAUST_SI.replace(old, new))
    (fault,) = caught.value.faults
    assert fault.key == key
    assert words in fault.message


def test_a_tablets_clock_may_be_a_day_ahead(db: Session):
    text = EXHAUST_SI.replace("2026-02-03T09:15:00-06:00", "2026-03-06T09:00:00")
    assert present(factories.create_session(db, text=text).measured_at) > factories.NOW
