"""Springs valve by valve: their records, loads, shims and room by hand, and the worst named."""

from __future__ import annotations

from typing import Any

import pymupdf
import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.documents import EachValve, SpringSide
from shopflow.models import EngineType, Event, Induction, Spring, Visit
from shopflow.models.places import SIDES
from shopflow.papers import hand_off as hand_off_paper
from shopflow.services.actor import Actor
from shopflow.services.hand_off import notes
from shopflow.services.hand_off import sheets as hand_off_sheets
from shopflow.services.measuring import limits, measurements
from shopflow.services.routing import operations
from shopflow.services.shop import settings
from shopflow.services.springs import records, sheets
from shopflow.units import US_CUSTOMARY, parse
from tests import factories
from tests.factories import BY
from tests.optional import present
from tests.services.expecting import assert_logged, faults_at, last_entry
from tests.unit.camfile.documents import CAM

SPRING = {
    "name": "dual, orange stripe", "coil_bind_height": "1.150 in", "wanted_height": "1.800 in",
    "least_bind_room": "0.060 in", "valve_lift": "0.500 in", "lash": "0.020 in",
}  # fmt: skip
POINTS: list[dict[str, object]] = [
    {"height": "1.800 in", "load": "120 lbf", "measured": True},
    {"height": "1.250 in", "load": "330 lbf"},
]


@pytest.fixture
def visit(db: Session) -> Visit:
    """A two-valve head of two cylinders."""
    return factories.create_planned_visit(db, intake="", exhaust="", cylinders="2")


def save(
    db: Session, owner: EngineType | Visit, side: str = "intake", points: Any = POINTS,
    **changes: str,
) -> Spring:  # fmt: skip
    row = records.save(db, BY, owner, side, {**SPRING, **changes}, points)
    db.flush()
    db.expire_all()
    return row


def measure(db: Session, visit: Visit, code: str, value: str, **where: object) -> None:
    kind = measurements.kind_by_code(db, code)
    place = {"cylinder": 1, "side": "intake", "valve": "", "when": "after", **where}
    measurements.record(db, BY, visit, kind.id, {"value": value, **place})


def side(db: Session, visit: Visit, name: str = "intake") -> SpringSide:
    return sheets.side(db, visit, name, US_CUSTOMARY)


def first(db: Session, visit: Visit) -> EachValve:
    return side(db, visit).each[0]


def test_springs_are_kept_as_typed_and_replaced_with_a_log(db: Session, visit: Visit):
    row = save(db, visit, points=POINTS[::-1])
    assert [(str(point.height), str(point.load), point.measured) for point in row.points] == [
        ("1.800 in", "120 lbf", True), ("1.250 in", "330 lbf", False),
    ]  # fmt: skip
    assert last_entry(db, row).job_id == visit.job_id
    before = row.version
    points = [*POINTS, {"height": "1.500 in", "load": "230 lbf"}, {"height": "", "load": " "}]
    assert save(db, visit, points=points, lash="0.015 in") is row
    assert row.version > before
    changes = last_entry(db, row).changes
    assert changes["lash"] == ["0.020 in", "0.015 in"]
    assert "230 lbf at 1.500 in" in changes["points"][1]
    entries = len(db.scalars(select(Event).where(Event.subject == "spring")).all())
    save(db, visit, points=points, lash="0.015 in")
    assert len(db.scalars(select(Event).where(Event.subject == "spring")).all()) == entries
    records.remove(db, BY, row)
    assert records.of_owner(db, visit, "intake") is None
    assert visit.springs == []


@pytest.mark.parametrize(
    ("changes", "points", "faults"),
    [
        ({}, POINTS[:1], ["points-0-height"]),
        ({}, [*POINTS, {"height": "1.500 in", "load": "350 lbf"}], ["points-1-load"]),
        ({}, [POINTS[0], {**POINTS[1], "height": "45.72 mm"}], ["points-1-height"]),
        ({}, [{"height": "tall", "load": ""}, POINTS[1]], ["points-0-height", "points-0-load"]),
        ({"coil_bind_height": "1.300 in"}, POINTS, ["points-1-height"]),
        ({"coil_bind_height": "1.800 in"}, [], ["wanted_height"]),
        ({"lobe_lift": "0.300 in"}, POINTS, ["valve_lift"]),
        ({"rocker_ratio": "1.5"}, POINTS, ["lobe_lift"]),
        ({"lash": "0.500 in"}, POINTS, ["lash"]),
        ({"lash": "-1 in", "valve_lift": "0 in"}, POINTS, ["valve_lift", "lash"]),
    ],
)
def test_what_is_no_spring_is_said_at_its_field(
    db: Session, visit: Visit, changes: dict[str, str], points: Any, faults: list[str]
):
    with faults_at(*faults):
        records.save(db, BY, visit, "intake", {**SPRING, **changes}, points)
    assert records.of_owner(db, visit, "intake") is None


@pytest.mark.source("linear spring of 210/0.550 lbf/in, by hand")
def test_each_valve_is_that_of_a_hand_calculation(db: Session, visit: Visit):
    save(db, visit)
    settings.change(db, BY, settings.get_shop(db), {"spring_shims": "0.015 in, 0.030 in"})
    measure(db, visit, "installed height", "1.852 in")
    measure(db, visit, "retainer to guide", "0.560 in")
    measure(db, visit, "installed height", "1.800 in", cylinder=2)
    answer = side(db, visit)
    item, two = answer.each
    # Shims 0.030 + 0.015; 1.852 − 0.045 = 1.807; 120 − 0.007 × 381.82 = 117.33 lbf.
    assert (item.shims, item.fitted_height) == ("0.030 in + 0.015 in", "1.807 in")
    assert item.seat_load == "≈ 117.3 lbf"
    # Lift 0.500 − 0.020 = 0.480 in: 1.327 in, 117.33 + 183.27 = 300.6 lbf.
    assert item.load_at_lift == "≈ 300.6 lbf"
    assert (two.seat_load, two.load_at_lift) == ("120.0 lbf", "303.3 lbf")
    # 1.807 − 1.150 − 0.480; 1.800 − 1.150 − 0.480; 0.560 − 0.480 in.
    assert (item.room_to_coil_bind, two.room_to_coil_bind) == ("0.177 in", "0.170 in")
    assert item.retainer_room == "0.080 in"
    assert item.verdict == "within limits"
    assert answer.to_pick == "1 × 0.030 in, 1 × 0.015 in"
    assert "Least room to coil bind: cylinder 2, intake valve, 0.170 in" in answer.worst
    assert answer.shims == (
        "cylinder 1, intake valve: 0.045 in of shims (0.030 in + 0.015 in)",
        "cylinder 2, intake valve: no shims",
    )
    assert "beyond the heights entered, 1.250 in to 1.800 in" in answer.cautions[0]
    figures = {figure.name: figure.value for figure in answer.figures}
    assert figures["Spring rate"] == "381.8 lbf/in"
    assert figures["Valve lift"] == "0.480 in"


def test_a_load_measured_at_the_valve_goes_before_one_read_off(db: Session, visit: Visit):
    save(db, visit)
    measure(db, visit, "installed height", "1.800 in")
    measure(db, visit, "seat load", "116 lbf")
    # 116 + 0.480 × 381.82 = 299.3 lbf.
    assert (first(db, visit).seat_load, first(db, visit).load_at_lift) == ("116 lbf", "299.3 lbf")
    measure(db, visit, "open load", "296 lbf")
    assert first(db, visit).load_at_lift == "296 lbf"


def test_boost_is_taken_off_each_valves_own_load(db: Session):
    visit = factories.create_planned_visit(db, intake="", exhaust="", cylinders="2")
    save(db, visit)
    intake = {"base_seat_load": "90 lbf", "port_pressure": "20 psi", "valve_head_diameter": "44 mm"}
    note = notes.write(db, BY, visit, {}, {"intake": intake}, [])
    measure(db, visit, "installed height", "1.800 in")
    measure(db, visit, "seat load", "130 lbf", cylinder=2)
    answer = side(db, visit)
    # By hand 20 psi on 44 mm is 47.1 lbf; to set 90 + 47.1 = 137.1 lbf.
    assert [valve.held for valve in answer.each] == ["72.9 lbf", "82.9 lbf"]
    assert "seat load 120.0 lbf, 17.1 lbf short of the load to set" in answer.each[0].verdict
    assert answer.each[0].is_out
    assert "Least load left on the seat: cylinder 1, intake valve, 72.9 lbf" in answer.worst
    note.valves[0].port_pressure = None
    weak = {**intake, "port_pressure": "60 psi"}
    notes.write(db, BY, visit, {}, {"intake": weak}, [])
    assert "the pressure pushes the valve open" in first(db, visit).verdict


def test_the_lift_is_the_jobs_cams_with_rocker_and_lash(db: Session, visit: Visit):
    save(db, visit, valve_lift="", lash="")
    visit.job.intake_lift = None
    assert "Enter the valve lift or add a cam" in " ".join(side(db, visit).to_enter)
    factories.create_cam(db, visit.head.engine_type)
    usual = {figure.name: figure for figure in side(db, visit).figures}["Valve lift"]
    assert usual.working.startswith("cam Fast road: lobe")
    factories.create_cam(db, visit.job, CAM.replace("Fast road", "Own"))
    own = {figure.name: figure for figure in side(db, visit).figures}["Valve lift"]
    assert own.working.startswith("cam Own: lobe")


@pytest.mark.source("30 psi × π/4 × 1.358² in² = 43.5 lbf, by hand")
def test_the_boost_of_the_job_is_taken_off_before_any_hand_off_note(db: Session, visit: Visit):
    """A boosted job never reads "within limits" while its boost is not taken off."""
    save(db, visit)
    save(db, visit, "exhaust")
    limits.set_(
        db, BY, visit.head.engine_type, measurements.kind_by_code(db, "seat load"), "",
        {"lower": "100 lbf", "upper": "130 lbf"},
    )  # fmt: skip
    visit.job.induction, visit.job.boost = Induction.TURBOCHARGED, parse("30 psi", "pressure")
    for name in SIDES:
        measure(db, visit, "installed height", "1.800 in", side=name)
    answer = side(db, visit)
    assert answer.alarms == (
        "Boost 30 psi not taken off. Enter the valve head diameter in the hand-off note.",
    )
    assert answer.each[0].verdict == "boost not taken off"
    assert answer.each[0].is_incomplete
    measure(db, visit, "valve head diameter", "1.358 in")
    answer = side(db, visit)
    assert (answer.alarms, answer.each[0].held) == ((), "76.5 lbf")
    assert answer.each[0].verdict == "within limits"
    figures = {figure.name: figure for figure in answer.figures}
    assert figures["Taken off for boost"].value == "43.5 lbf"
    assert figures["Taken off for boost"].working.startswith("30 psi of the job on the whole face")
    exhaust = side(db, visit, "exhaust")
    assert exhaust.alarms[0].startswith("Exhaust back pressure not taken off. Enter it")
    assert exhaust.each[0].verdict == "back pressure not taken off"
    set_up = {"port_pressure": "20 psi", "valve_head_diameter": "1.358 in"}
    notes.write(db, BY, visit, {}, dict.fromkeys(SIDES, set_up), [])
    db.expire_all()
    assert side(db, visit, "exhaust").each[0].verdict == "within limits"
    assert "states a boost of 30 psi, but 20 psi is taken off" in " ".join(side(db, visit).cautions)
    visit.job.boost = None
    notes.write(db, BY, visit, {}, {}, [])
    db.expire_all()
    assert side(db, visit).alarms == ("Boost not taken off. Enter the boost of the job.",)


def test_a_row_without_a_height_or_a_valves_name_is_not_within_limits(db: Session):
    """A seat load of one cylinder's side stands for no valve, and the valves are all measured."""
    visit = factories.create_planned_visit(db, intake="", cylinders="1")
    limits.set_(
        db, BY, visit.head.engine_type, measurements.kind_by_code(db, "seat load"), "",
        {"lower": "100 lbf"},
    )  # fmt: skip
    for valve in ("front", "rear"):
        measure(db, visit, "installed height", "1.800 in", side="exhaust", valve=valve)
    measure(db, visit, "seat load", "112 lbf", side="exhaust")
    answer = side(db, visit, "exhaust")
    assert [(valve.where, valve.verdict) for valve in answer.each[2:]] == [
        ("cylinder 1 exhaust, valve not named", "height not measured"),
    ]
    assert answer.missing == ()


def test_shims_that_are_in_stay_in_and_only_more_are_added(db: Session, visit: Visit):
    """A height after the work is on the shims in now; one before it is bare."""
    save(db, visit)
    measure(db, visit, "installed height", "1.805 in")
    measure(db, visit, "shim", "1.00 mm")
    measure(db, visit, "installed height", "1.862 in", cylinder=2, when="before")
    measure(db, visit, "shim", "0.030 in", cylinder=2)
    answer = side(db, visit)
    stated = [
        (row.shims_in, row.installed_height, row.shims, row.fitted_height) for row in answer.each
    ]
    assert stated == [
        ("0.039 in (1.00 mm)", "1.805 in", "0.005 in", "1.800 in"),
        ("0.030 in", "1.832 in", "0.030 in", "1.802 in"),
    ]
    assert answer.picking == "Shims to add to those in now: 1 × 0.030 in, 1 × 0.005 in."
    assert "less the shims in now: cylinder 2, intake valve." in " ".join(answer.cautions)
    measure(db, visit, "installed height", "1.780 in")
    assert "0.020 in low: fit thinner shims" in first(db, visit).verdict


def test_a_height_within_its_limits_asks_for_no_cut(db: Session, visit: Visit):
    """36.06 mm against 1.420 in is 0.0003 in low: no reason to cut a spring pocket."""
    save(db, visit, wanted_height="1.420 in", coil_bind_height="0.800 in")
    measure(db, visit, "installed height", "36.06 mm")
    assert first(db, visit).shims == "none"
    kind = measurements.kind_by_code(db, "installed height")
    limits.set_(db, BY, visit.head.engine_type, kind, "", {"lower": "1.410 in"})
    measure(db, visit, "installed height", "1.411 in")
    assert (first(db, visit).shims, first(db, visit).verdict) == ("none", "within limits")
    measure(db, visit, "installed height", "1.408 in")
    assert first(db, visit).shims == "0.012 in low"


def test_limits_and_room_are_held_in_words(db: Session, visit: Visit):
    save(db, visit, least_bind_room="0.200 in")
    kind = measurements.kind_by_code(db, "seat load")
    values = {"lower": "121 lbf", "upper": "130 lbf"}
    limits.set_(db, BY, visit.head.engine_type, kind, "", values)
    square = measurements.kind_by_code(db, "squareness")
    limits.set_(db, BY, visit.head.engine_type, square, "intake", {"upper": "1.5 mm"})
    measure(db, visit, "installed height", "1.780 in")
    measure(db, visit, "squareness", "1.6 mm")
    measure(db, visit, "installed height", "1.600 in", cylinder=2)
    item, two = side(db, visit).each
    assert "squareness 0.063 in (1.6 mm), limits to 0.059 in" in item.verdict
    assert "room to coil bind 0.150 in, wanted 0.200 in" in item.verdict
    assert "0.020 in low: cut the pocket or change the retainer" in item.verdict
    assert "the spring binds" in two.verdict
    assert "seat load" not in item.verdict
    assert "seat load 196.4 lbf, limits 121 to 130 lbf" in two.verdict


def test_a_head_starts_from_the_usual_springs_until_its_note_tells_of_others(
    db: Session, visit: Visit
):
    save(db, visit.head.engine_type, wanted_height="1.810 in")
    measure(db, visit, "installed height", "1.840 in")
    assert first(db, visit).shims == "0.030 in"
    assert side(db, visit).name == "dual, orange stripe"
    own = {"spring_rate": "300 lbf/in", "installed_load": "100 lbf", "installed_height": "1.820 in",
           "valve_lift": "0.400 in"}  # fmt: skip
    notes.write(db, BY, visit, {}, {"intake": own}, [])
    db.expire_all()
    answer = side(db, visit)
    assert (answer.name, answer.curve) == ("", None)
    # On 0.020 in of shims at 1.820 in: 100, and 100 + 300 × (0.400 − 0.020 of lash) = 214 lbf.
    assert (answer.each[0].seat_load, answer.each[0].load_at_lift) == ("100.0 lbf", "214.0 lbf")
    save(db, visit, name="mine")
    assert side(db, visit).name == "mine"


def test_nothing_known_says_what_to_enter(db: Session, visit: Visit):
    answer = side(db, visit)
    assert not answer.is_known
    assert [valve.where for valve in answer.each] == [
        "cylinder 1, intake valve", "cylinder 2, intake valve",
    ]  # fmt: skip
    for words in ("two or more loads by height", "coil bind height", "height wanted"):
        assert words in " ".join(answer.to_enter)
    assert answer.missing == ("No installed height of the intake springs is measured.",)


def test_the_hand_off_sheet_states_the_springs_once(db: Session, visit: Visit, machinist: Actor):
    save(db, visit)
    measure(db, visit, "installed height", "1.800 in")
    values = {"base_seat_load": "90 lbf", "spring_rate": "300 lbf/in", "valve_lift": "0.480 in"}
    notes.write(db, machinist, visit, {}, {"intake": values}, [])
    sheet = hand_off_sheets.hand_off(db, visit)
    names = {figure.name for figure in sheet.valves[0].figures}
    assert "Spring rate" not in names
    assert "Load at full lift" not in names
    assert present(sheet.springs[0].curve).coil_bind == pytest.approx(1.150 * 0.0254)
    assert "Base seat load" in names


def test_the_hand_off_sheet_tells_seats_by_side_the_work_done_and_what_nobody_measured(
    db: Session, visit: Visit, machinist: Actor
):
    """One of four valves is measured, the worst run-out is named, and what lacks is left out."""
    measure(db, visit, "installed height", "1.698 in")
    for cylinder, width, run_out in ((1, "1.46 mm", "0.012 mm"), (2, "1.55 mm", "0.026 mm")):
        place = {"cylinder": cylinder, "side": "exhaust"}
        measure(db, visit, "seat width", width, **place)
        measure(db, visit, "seat run-out", run_out, **place)
    measure(db, visit, "seat width", "1.10 mm")
    values = {"base_seat_load": "110 lbf", "spring_rate": "280 lbf/in", "valve_lift": "0.440 in",
              "installed_height": "1.698 in", "installed_load": "113 lbf",
              "coil_bind_height": "1.120 in"}  # fmt: skip
    engine = {"gas_flow": "0.2 kg/s"}
    notes.write(db, machinist, visit, {}, dict.fromkeys(SIDES, values), [], engine)
    done = factories.create_operation(db, visit, "hot-wash")
    factories.approve(db, BY, visit.job)
    operations.sign_off(db, machinist, done, {})
    sheet = hand_off_sheets.hand_off(db, visit)
    assert sheet.springs_to_check == ("Springs of 3 of 4 valves not measured. Check every spring.")
    assert sheet.done == (done.kind.name,)
    figures = {figure.name: (figure.value, figure.working) for figure in sheet.figures}
    assert figures["Seat width, exhaust"] == ("1.46 to 1.55 mm", "2 seats measured")
    assert figures["Seat width, intake"] == ("1.10 mm", "1 seat measured")
    assert figures["Seat run-out, exhaust"] == (
        "0.026 mm", "the worst of 2, cylinder 2 exhaust",
    )  # fmt: skip
    assert figures["Seat angle, exhaust"][0] == "not recorded"
    assert not [name for name, (value, _) in figures.items() if value == "not calculated"]
    intake, exhaust = sheet.valves
    assert "Load at full lift" not in {figure.name for figure in intake.figures}
    assert "Load at full lift" in intake.by_valve
    assert "Load at full lift" in {figure.name for figure in exhaust.figures}
    with pymupdf.open(stream=hand_off_paper(sheet)) as pdf:
        text = " ".join(" ".join(page.get_text() for page in pdf).split())
    assert "Room to coil bind see each valve 0.138 in" in text
    assert sheet.springs_to_check in text
    assert "No installed height of the exhaust springs is measured." in text


def test_a_new_spring_is_logged_by_who_entered_it(db: Session, visit: Visit, machinist: Actor):
    row = records.save(db, machinist, visit, "exhaust", SPRING, POINTS)
    assert_logged(db, row, machinist, "added", name=["", "dual, orange stripe"])
