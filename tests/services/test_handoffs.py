"""Hand-off notes: written, signed, and their arithmetic against a hand calculation."""

from __future__ import annotations

import math

import pytest
from sqlalchemy.orm import Session

from shopflow.documents import Figure
from shopflow.models import HandOffNote, Visit
from shopflow.services.actor import Actor
from shopflow.services.hand_off import notes, sheets, spring_setup
from shopflow.services.measuring import measurements
from shopflow.services.routing import operations
from shopflow.units import SI, US_CUSTOMARY, Quantity
from tests import factories
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

WORDS = {"addressee": "Tillery & Daughters", "to_check": "piston to valve\ncoil bind"}
INTAKE = {
    "base_seat_load": "90 lbf", "seat_angle_allowance": "10 lbf", "port_pressure": "20 psi",
    "valve_head_diameter": "44 mm", "spring_rate": "340 lbf/in", "installed_height": "1.650 in",
    "coil_bind_height": "1.100 in", "valve_lift": "0.450 in",
}  # fmt: skip


def write(db: Session, by: Actor, visit: Visit, **changes: object) -> HandOffNote:
    """A note for both sides."""
    intake, exhaust = {**INTAKE, **changes}, {"base_seat_load": "95 lbf"}
    figures = [{"name": "Rocker ratio", "value": "1.5", "working": "measured at 0.300 in"}]
    return notes.write(db, by, visit, WORDS, {"intake": intake, "exhaust": exhaust}, figures)


def figures(note: HandOffNote, side: str = "intake") -> dict[str, Figure]:
    """One side's figures by name, as printed for a shop in US units."""
    valve = next(valve for valve in note.valves if valve.side == side)
    return {item.name: item for item in spring_setup.valve_figures(valve, US_CUSTOMARY)}


def test_a_note_is_kept_as_typed(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    note = write(db, machinist, visit)
    db.flush()
    db.expire_all()
    assert visit.hand_off is note
    assert note.addressee == "Tillery & Daughters"
    assert [valve.side for valve in note.valves] == ["intake", "exhaust"]
    assert {name: str(getattr(note.valves[0], name)) for name in INTAKE} == INTAKE
    assert note.valves[1].spring_rate is None
    assert [(row.position, row.name) for row in note.figures] == [(1, "Rocker ratio")]
    assert_logged(db, note, machinist, "written", addressee=["", "Tillery & Daughters"])
    assert last_entry(db, note).job_id == visit.job_id


def test_faults_come_together_at_side_field_and_row(db: Session, by: Actor):
    visit = factories.create_visit(db)
    valves = {
        "intake": {"spring_rate": "0 lbf/in", "valve_lift": "half an inch"},
        "exhaust": {"base_seat_load": "-1 lbf", "colour": "red"},
    }
    with faults_at(
        "addressee", "intake-spring_rate", "intake-valve_lift", "exhaust-base_seat_load",
        "exhaust-colour", "figures-0-value", "figures-1-name",
    ):  # fmt: skip
        notes.write(
            db, by, visit, {"addressee": "x" * 201}, valves, [{"name": "Lash"}, {"value": "1"}]
        )
    with faults_at("intake-coil_bind_height"):
        write(db, by, visit, coil_bind_height="1.650 in")
    assert visit.hand_off is None


def test_it_is_rewritten_until_it_is_signed_and_the_log_keeps_what_it_said(
    db: Session, by: Actor, machinist: Actor
):
    visit = factories.create_visit(db)
    note = write(db, by, visit)
    assert write(db, machinist, visit, spring_rate="320 lbf/in") is note
    assert len(note.valves) == 2
    assert last_entry(db, note).changes == {"intake spring_rate": ["340 lbf/in", "320 lbf/in"]}
    with refused("needs a person"):
        notes.sign(db, by, note)
    notes.sign(db, machinist, note)
    assert (note.signed_at, note.signed_by_id) == (machinist.at, machinist.person_id)
    with refused("signed already"):
        notes.sign(db, machinist, note)
    with refused("withdraw the signature"):
        write(db, by, visit)
    notes.take_back(db, machinist, note)
    assert_logged(db, note, machinist, "signature withdrawn")
    assert last_entry(db, note).changes["signed_at"][0].startswith("2026-03-05 15:30")
    with refused("not signed"):
        notes.take_back(db, machinist, note)
    write(db, by, visit)


def test_the_seat_load_agrees_with_a_hand_calculation(db: Session, by: Actor):
    answer = figures(write(db, by, factories.create_visit(db)))
    # By hand: 20 lbf/in2 on pi/4 (44 mm)^2 = 2.35684 in2 is 47.137 lbf.
    boost = 20 * math.pi / 4 * (44 / 25.4) ** 2
    assert boost == pytest.approx(47.1366, abs=5e-5)
    assert answer["Added for boost"].value == "47.1 lbf"
    assert "whole face" in answer["Added for boost"].working
    # 44 ÷ 25.4 = 1.732: one system of units to a figure, that of the pressure measured.
    assert "1.732 in" in answer["Added for boost"].working
    # 90 + 47.137 + 10 = 147.137 lbf; + 340 lbf/in x 0.450 in = 300.137 lbf.
    assert answer["Seat load to set"].value == "147.1 lbf"
    assert answer["Seat load to set"].working == "90 lbf + 47.1 lbf + 10 lbf"
    assert answer["Load at full lift"].value == "300.1 lbf"
    # 1.650 - 1.100 - 0.450 = 0.100 in.
    assert answer["Room to coil bind"].value == "0.100 in"
    assert "common practice (no source) adds about 10 lbf" in answer["Added for seat angle"].working
    assert answer["Spring rate"].value == "340 lbf/in"


def test_the_same_in_si(db: Session, by: Actor):
    note = write(
        db, by, factories.create_visit(db),
        base_seat_load="400 N", seat_angle_allowance="44.5 N", port_pressure="1.4 bar",
        spring_rate="60 N/mm", installed_height="41.9 mm", coil_bind_height="27.9 mm",
        valve_lift="11 mm",
    )  # fmt: skip
    by_name = {item.name: item.value for item in spring_setup.valve_figures(note.valves[0], SI)}
    # By hand: 140 kPa on pi/4 (44 mm)^2 = 1520.53 mm2 is 212.87 N.
    assert 0.140 * math.pi / 4 * 44**2 == pytest.approx(212.874, abs=5e-4)
    assert by_name["Added for boost"] == "213 N"
    assert by_name["Seat load to set"] == "657 N"
    assert by_name["Load at full lift"] == "1317 N"
    assert by_name["Room to coil bind"] == "3.00 mm"


def test_back_pressure_is_called_that_and_nothing_is_made_up(db: Session, by: Actor):
    visit = factories.create_visit(db)
    valves = {"exhaust": {"base_seat_load": "95 lbf", "port_pressure": "18 psi",
                          "valve_head_diameter": "37 mm"}, "intake": {}}  # fmt: skip
    note = notes.write(db, by, visit, {}, valves, [])
    assert [valve.side for valve in note.valves] == ["exhaust"]
    answer = figures(note, "exhaust")
    # By hand: 18 lbf/in2 on pi/4 (37 mm)^2 = 1.66657 in2 is 29.998 lbf.
    assert answer["Added for back pressure"].value == "30.0 lbf"
    assert answer["Seat load to set"].value == "125.0 lbf"
    assert "Load at full lift" not in answer
    assert "Room to coil bind" not in answer


def test_a_spring_that_binds_says_so(db: Session, by: Actor):
    note = write(db, by, factories.create_visit(db), valve_lift="0.600 in")
    figure = figures(note)["Room to coil bind"]
    assert figure.value == "-0.050 in"
    assert "THE SPRING BINDS" in figure.working


def test_the_spring_that_was_measured_is_held_against_the_load_to_set(db: Session, by: Actor):
    visit = factories.create_visit(db)
    answer = figures(write(db, by, visit, installed_load="150 lbf"))
    # By hand: 150 - 147.137 = 2.863; 150 - 47.137 = 102.863; 150 + 340 x 0.450 = 303 lbf.
    assert "2.9 lbf above" in answer["Spring load at installed height"].working
    assert answer["Left on the seat under boost"].value == "102.9 lbf"
    assert answer["Load at full lift"].value == "303.0 lbf"
    short = figures(write(db, by, visit, installed_load="140 lbf"))
    assert "7.1 lbf SHORT" in short["Spring load at installed height"].working
    weak = figures(write(db, by, visit, installed_load="45 lbf"))["Left on the seat under boost"]
    assert weak.value == "-2.1 lbf"
    assert "PUSHED OPEN" in weak.working


def test_boost_leaves_what_the_spring_gives_less_its_force(db: Session, by: Actor):
    figure = figures(write(db, by, factories.create_visit(db)))["Left on the seat under boost"]
    # By hand: 147.137 - 47.137 = 100 lbf, the base load and the allowance.
    assert figure.value == "100.0 lbf"
    assert "seat load to set" in figure.working


def test_room_from_retainer_to_guide_is_what_was_entered_less_the_lift(db: Session, by: Actor):
    visit = factories.create_visit(db)
    answer = figures(write(db, by, visit, retainer_to_guide="0.520 in"))
    assert answer["Retainer to guide, valve closed"].value == "0.520 in"
    assert answer["Retainer to guide at full lift"].value == "0.070 in"
    struck = figures(write(db, by, visit, retainer_to_guide="0.440 in"))
    assert struck["Retainer to guide at full lift"].value == "-0.010 in"
    assert "STRIKES" in struck["Retainer to guide at full lift"].working


def test_what_nobody_entered_is_said_to_be_missing(db: Session, by: Actor):
    visit = factories.create_visit(db, induction="turbocharged")
    working = figures(write(db, by, visit), "exhaust")["Not entered"].working
    for part in (
        "Seat load to set: valve head diameter, pressure on the valve head",
        "Load at full lift: spring rate, valve lift",
        "Room to coil bind: installed height, coil bind height, valve lift",
        "Retainer to guide at full lift: retainer to guide clearance, valve lift",
    ):
        assert part in working
    total = write(db, by, factories.create_visit(db), retainer_to_guide="0.520 in")
    assert "Not entered" not in figures(total)


def measure(db: Session, by: Actor, visit: Visit, code: str, value: str, **place: object) -> None:
    kind = measurements.kind_by_code(db, code)
    measurements.record(db, by, visit, kind.id, {"value": value, "when": "after", **place})


SHALLOW = "the intake seat is recorded at 39 deg, shallower than 45 deg, and its allowance is blank"


def test_a_blank_allowance_blocks_the_signature_while_a_shallow_seat_is_on_file(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    measure(db, machinist, visit, "seat angle", "45 deg", cylinder=1, side="intake")
    measure(db, machinist, visit, "seat angle", "39 deg", cylinder=2, side="intake")
    note = write(db, machinist, visit, seat_angle_allowance="")
    with refused(SHALLOW):
        notes.sign(db, machinist, note)
    answer = figures(note)
    assert "Seat load to set" not in answer
    assert answer["Added for seat angle"].value == "not entered"
    notes.sign(db, machinist, write(db, machinist, visit, seat_angle_allowance="0 lbf"))


def test_a_seat_of_the_last_test_or_of_the_note_itself_counts_as_on_file(
    db: Session, machinist: Actor
):
    tested = factories.create_visit(db)
    row = factories.create_session(db, tested)
    row.seat_angle = Quantity("39 deg", math.radians(39))
    with refused(SHALLOW):
        notes.sign(db, machinist, write(db, machinist, tested, seat_angle_allowance=""))
    noted = factories.create_visit(db)
    note = write(db, machinist, noted, seat_angle_allowance="", seat_angle="39 deg")
    with refused(SHALLOW):
        notes.sign(db, machinist, note)
    # Half a degree is how well a seat is cut.
    note = write(db, machinist, noted, seat_angle_allowance="", seat_angle="44.8 deg")
    notes.sign(db, machinist, note)


def test_a_seat_load_that_lacks_an_input_blocks_the_signature(db: Session, machinist: Actor):
    turbo = factories.create_visit(db, induction="turbocharged")
    note = write(db, machinist, turbo)
    lacking = "the exhaust seat load lacks: valve head diameter, pressure on the valve head"
    with refused(lacking):
        notes.sign(db, machinist, note)
    natural = factories.create_visit(db)
    note = write(db, machinist, natural, valve_head_diameter="")
    with refused("the intake seat load lacks: valve head diameter"):
        notes.sign(db, machinist, note)
    assert "Seat load to set" not in figures(note)
    note = write(db, machinist, natural, base_seat_load="", port_pressure="")
    with refused("the intake seat load lacks: base seat load"):
        notes.sign(db, machinist, note)
    notes.sign(db, machinist, write(db, machinist, natural, port_pressure=""))


def test_a_derived_allowance_is_of_the_angle_and_says_so(db: Session, by: Actor):
    visit = factories.create_visit(db)
    derived = {"seat_angle_allowance": "", "seat_angle": "39 deg", "allowance_derived": True}
    answer = figures(write(db, by, visit, **derived))
    # By hand: cos 39 ÷ cos 45 = 0.777146 ÷ 0.707107 = 1.09905; 90 × 0.09905 = 8.91 lbf.
    assert answer["Added for seat angle"].value == "8.9 lbf"
    assert answer["Added for seat angle"].working.startswith("derived: 90 lbf × (cos 39")
    # 90 + 47.137 + 8.914 = 146.05 lbf.
    assert answer["Seat load to set"].value == "146.1 lbf"
    own = figures(write(db, by, visit, seat_angle="39 deg"))["Added for seat angle"]
    assert own.working.startswith("the porter's own, not derived; common practice (no source)")
    steep = figures(write(db, by, visit, **{**derived, "seat_angle": "50 deg"}))
    assert steep["Added for seat angle"].value == "0.0 lbf"
    with faults_at("intake-seat_angle", "intake-seat_angle_allowance"):
        write(db, by, visit, **{**derived, "seat_angle_allowance": "9 lbf", "seat_angle": "90 deg"})


def test_each_figure_stands_in_the_units_it_was_measured_in_first(db: Session, by: Actor):
    """A shop in US units, its springs measured in newtons and millimetres."""
    note = write(
        db, by, factories.create_visit(db),
        base_seat_load="400 N", installed_load="700 N", installed_height="41.9 mm",
        coil_bind_height="1.100 in", retainer_to_guide="13.2 mm",
    )  # fmt: skip
    answer = figures(note)
    assert answer["Seat load to set"].value == "654 N"
    assert answer["Seat load to set"].working == "400 N + 210 N + 44 N"
    assert "46 N above" in answer["Spring load at installed height"].working
    # 340 lbf/in = 59.54 N/mm; 0.450 in = 11.43 mm; 700 + 59.54 × 11.43 = 1380.6 N.
    assert answer["Load at full lift"].value == "1381 N"
    assert "59.54 N/mm × 11.43 mm" in answer["Load at full lift"].working
    # 41.9 − 27.94 − 11.43 = 2.53 mm.
    assert answer["Room to coil bind"].value == "2.53 mm"
    assert answer["Retainer to guide at full lift"].value == "1.77 mm"


def test_installed_height_and_coil_bind_are_stated_per_valve_and_the_worst_is_named(
    db: Session, by: Actor
):
    visit = factories.create_visit(db)
    for cylinder, height, load in ((1, "1.655 in", "148 lbf"), (2, "1.540 in", "161 lbf"),
                                   (3, "1.660 in", "146 lbf")):  # fmt: skip
        place = {"cylinder": cylinder, "side": "intake"}
        measure(db, by, visit, "installed height", height, **place)
        measure(db, by, visit, "seat load", load, **place)
    measure(db, by, visit, "installed height", "1.200 in", cylinder=1, side="exhaust")
    note = write(db, by, visit)
    answer = figures(note)
    # By hand: 1.540 − 1.100 − 0.450 = −0.010 in.
    assert answer["Lowest installed height"].value == "1.540 in"
    assert (
        answer["Lowest installed height"].working == "cylinder 2 intake, the lowest of 3 measured"
    )
    room = answer["Room to coil bind"]
    assert room.value == "-0.010 in"
    assert "at cylinder 2 intake" in room.working
    assert "THE SPRING BINDS" in room.working
    # 146 − 147.137 = −1.1 lbf.
    least = answer["Least seat load measured"]
    assert (least.value, least.working.split(";")[0]) == ("146 lbf", "cylinder 3 intake")
    assert "1.1 lbf SHORT" in least.working
    each = sheets.hand_off(db, visit).springs[0].measured
    # The note wants 1.650 in: 0.005 in of shims under the first, 0.010 in under the third.
    assert [(row.where, row.shims, row.room_to_coil_bind) for row in each] == [
        ("cylinder 1 intake", "0.005 in", "0.100 in"),
        ("cylinder 2 intake", "0.110 in low", "-0.010 in"),
        ("cylinder 3 intake", "0.010 in", "0.100 in"),
    ]


def test_a_sheet_with_no_figures_is_not_printed(db: Session, by: Actor):
    visit = factories.create_visit(db)
    notes.write(db, by, visit, WORDS, {}, [])
    with refused("has no values yet"):
        sheets.hand_off(db, visit)


def test_steps_not_done_are_the_sheets_remaining_work(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    write(db, machinist, visit)
    assert sheets.hand_off(db, visit).title == f"Hand-off of head {visit.tag}"
    step = factories.create_operation(db, visit, "teardown")
    sheet = sheets.hand_off(db, visit)
    assert sheet.remaining == ("Tear down",)
    assert sheet.title == f"Hand-off of part-finished head {visit.tag}"
    operations.skip(db, machinist, step, "Came in bare.")
    assert sheets.hand_off(db, visit).remaining == ()


def test_the_sheet_holds_what_the_note_says(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    notes.sign(db, machinist, write(db, machinist, visit))
    sheet = sheets.hand_off(db, visit)
    assert sheet.to_check == ("piston to valve", "coil bind")
    assert [valve.side for valve in sheet.valves] == ["intake", "exhaust"]
    assert sheet.figures == (Figure("Rocker ratio", "1.5", "measured at 0.300 in"),)
    assert (sheet.signed_by, sheet.signed_at) == ("Odile Marsh", machinist.at)
    assert sheet.head.tag == visit.tag
