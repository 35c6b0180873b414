"""Past jobs found again by engine type, casting, serial, number or customer."""

from __future__ import annotations

from dataclasses import replace
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Job, OperationState, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.bench.summaries import flow_shown
from shopflow.services.counter import booking
from shopflow.services.jobs import jobs
from shopflow.services.measuring import measurements
from shopflow.services.registry import head_layouts
from shopflow.services.routing import operations
from shopflow.services.search import past_jobs, search
from shopflow.services.search.past_jobs import PastJob
from tests import factories
from tests.cli.sessions import AFTER_US, EXHAUST_SI, INTAKE_US

CUSTOMERS = ("Jürgen Müllenbach", "Zoé Beaudry-Lachance", "Quarry Hill Garage", "Íñigo Delgadillo")


@pytest.fixture
def past(db: Session, by: Actor) -> dict[str, Job]:
    """Jobs of four customers on two engine types, by the customer's last name."""
    factories.create_shop(db)
    small = factories.create_engine_type(
        db, builder="Vantera", family="V18T 20-valve", displacement="1792 cm3",
        aliases="eighteen five valve",
    )  # fmt: skip
    large = factories.create_engine_type(
        db, builder="Delmarra", family="Ironside 342", displacement="342 in3", cylinders="8"
    )
    values = {}
    for day, name in enumerate(CUSTOMERS):
        form = booking.BookIn(
            customer_id=factories.create_customer(db, name=name).id,
            engine_type_id=(small if day % 2 == 0 else large).id,
            heads=[{"casting_number": f"VT-20.{day} 58/{day}", "serial": f"B {day}8840",
                    "condition": f"corroded at port {day}"}],
            job={"asked_for": f"Wants wish{day} work", "notes": f"shelf {day} of 100%"},
        )  # fmt: skip
        values[name.split()[-1]] = booking.book_in(
            db, Actor(None, by.at + timedelta(days=day)), form
        )
    return values


def names_found(db: Session, past: dict[str, Job], text: str, limit: int = 50) -> list[str]:
    """Last names of the customers of the jobs found, in order."""
    names = {job.number: name for name, job in past.items()}
    return [names[row.job] for row in past_jobs.past_jobs(db, text, limit)]


SMALL, LARGE = ["Garage", "Müllenbach"], ["Delgadillo", "Beaudry-Lachance"]
FOUND = {
    "Vantera": SMALL,
    "vantra": SMALL,
    "v18": SMALL,
    "1.8": SMALL,
    "1800 cc": SMALL,
    "1.8 L": SMALL,
    "eigthteen five valve": SMALL,
    "Ironside": LARGE,
    "iron side": LARGE,
    "342 ci": LARGE,
    "5.6": LARGE,
    "Müllenbach": ["Müllenbach"],
    "Mullenbach": ["Müllenbach"],
    "mulenbach": ["Müllenbach"],
    "Muellenbach": ["Müllenbach"],
    "zoe": ["Beaudry-Lachance"],
    "inigo": ["Delgadillo"],
    "ÍÑIGO": ["Delgadillo"],
    "quarry": ["Garage"],
    "VT-20.2 58/2": ["Garage"],
    "vt 202 582": ["Garage"],
    "VT20": ["Delgadillo", "Garage", "Beaudry-Lachance", "Müllenbach"],
    "b-38840": ["Delgadillo"],
    "18840": ["Beaudry-Lachance"],
    "2026-0003": ["Garage"],
    "2026-0003-A": ["Garage"],
    "wish2": ["Garage"],
    "corroded at port 3": ["Delgadillo"],
    "wish2 work\nshelf": ["Garage"],
    "Ironside Delgadillo": ["Delgadillo"],
    "vantra mulenbach": ["Müllenbach"],
    "1.8 quarry": ["Garage"],
    "342 cu in Zoe": ["Beaudry-Lachance"],
    "V8 Delgadillo": ["Delgadillo"],
    "Ironside zeppelin": [],
    "Vantera Delgadillo": [],
    "342cu in": LARGE,
    # 342 in3 is 5.604 L, by 1 in = 25.4 mm.
    "5604 cc": LARGE,
    "109 ci": SMALL,
    "shelf": ["Delgadillo", "Garage", "Beaudry-Lachance", "Müllenbach"],
    "%": [],
    "___": [],
    "\x00": [],
    "": [],
    "zz top": [],
}  # fmt: skip


def test_a_job_is_found_by_whatever_one_has_of_it_newest_first(
    db: Session, past: dict[str, Job], subtests: pytest.Subtests
):
    for text, wanted in FOUND.items():
        with subtests.test(text):
            assert names_found(db, past, text) == wanted
    assert names_found(db, past, "VT20", limit=2) == ["Delgadillo", "Garage"]


def test_a_row_tells_the_best_flows_and_the_last_gain(db: Session, past: dict[str, Job]):
    (visit,) = past["Müllenbach"].heads
    step = factories.create_operation(db, visit)
    first = factories.create_session(db, visit, INTAKE_US)
    exhaust = factories.create_session(db, visit, EXHAUST_SI)
    later = factories.create_session(db, visit, AFTER_US, after=step)
    (row,) = past_jobs.past_jobs(db, "Mullenbach")
    gain = sessions.compare(first, later).mean_area_gain_percent
    answer = replace(row, best_intake_flow=None, best_exhaust_flow=None, gain_percent=None)
    assert answer == PastJob(
        job=past["Müllenbach"].number,
        tag=visit.tag,
        customer="Jürgen Müllenbach",
        engine_type="Vantera V18T 20-valve",
        head="casting VT-20.0 58/0, serial B 08840",
        booked_in=past["Müllenbach"].booked_in_at,
        state="booked in",
        stage="seat cut",
        why="customer Jürgen Müllenbach",
        best_intake_flow=None,
        best_exhaust_flow=None,
        gain_percent=None,
        gain_side="intake",
    )
    # By hand: 103.591 m3/s for each m2 at 28 inH2O in air of 1.204 kg/m3, intake.
    areas = (p.effective_area for s in (first, later) for p in sessions.reduction(s).points)
    assert row.best_intake_flow == pytest.approx(103.591 * max(areas), rel=1e-5)
    assert row.best_exhaust_flow == pytest.approx(flow_shown(exhaust.peak_area, "exhaust"))
    assert row.gain_percent == pytest.approx(gain)


def test_an_untested_head_has_no_figures(db: Session, past: dict[str, Job]):
    (row,) = past_jobs.past_jobs(db, "zoe")
    assert (row.best_intake_flow, row.best_exhaust_flow, row.gain_percent, row.stage) == (
        None,
        None,
        None,
        "",
    )


def test_every_job_on_an_engine_type_is_listed(db: Session, past: dict[str, Job]):
    engine_type = past["Delgadillo"].heads[0].head.engine_type
    rows = past_jobs.of_engine_types(db, [engine_type])
    assert [row.job for row in rows] == [past[name].number for name in LARGE]
    assert past_jobs.of_engine_types(db, []) == []


SEARCHED = {
    "2026-0001": {("job", "2026-0001")},
    "mullenbach": {("job", "2026-0001"), ("customer", "Jürgen Müllenbach")},
    "wish2": {("job", "2026-0003")},
    "corroded at port 3": {("job", "2026-0004")},
    "shelf 1 of 100%": {("job", "2026-0002")},
    "18840": {("job", "2026-0002"), ("head", "casting VT-20.1 58/1, serial B 18840")},
    "VT 201 581": {("job", "2026-0002"), ("head", "casting VT-20.1 58/1, serial B 18840")},
    "1.8": {("job", "2026-0001"), ("job", "2026-0003"), ("engine type", "Vantera V18T 20-valve")},
    " ": set(),
    "\x00": set(),
    "nothing of the kind": set(),
}


def test_one_box_searches_everything(db: Session, past: dict[str, Job], subtests: pytest.Subtests):
    for text, wanted in SEARCHED.items():
        with subtests.test(text):
            hits = search.everything(db, text)
            assert {(hit.kind, hit.title) for hit in hits} == wanted
            assert len(hits) == len(set(hits))


@pytest.fixture
def worked(db: Session, past: dict[str, Job]) -> dict[str, Job]:
    """The same jobs with facts of their own to be asked for."""
    for name, values in {
        "Müllenbach": {"purpose": "drag", "induction": "turbocharged", "fuel": "methanol"},
        "Beaudry-Lachance": {"purpose": "marine", "induction": "turbocharged", "fuel": "E85"},
        "Garage": {"purpose": "street", "notes": "drag it off the shelf, no methanol, 39 deg"},
        "Delgadillo": {"induction": "supercharged", "fuel": "petrol and ethanol"},
    }.items():
        jobs.change(db, factories.BY, past[name], values)
    visits = {name: job.heads[0] for name, job in past.items()}
    cut = INTAKE_US.replace('"45 deg"', '"39 deg"').replace('"1.732 in"', '"2 in"')
    factories.create_session(db, visits["Beaudry-Lachance"], cut)
    factories.create_session(db, visits["Müllenbach"], INTAKE_US)
    factories.create_session(db, visits["Müllenbach"], EXHAUST_SI)
    kind = measurements.kind_by_code(db, "seat angle")
    measured = {"side": "exhaust", "value": "39 deg", "when": "after"}
    measurements.record(db, factories.BY, visits["Delgadillo"], kind.id, measured)
    cut_to_38(db, visits["Müllenbach"])
    step = factories.create_operation(db, visits["Garage"], "hot-wash")
    operations.sign_off(db, factories.someone(db), step, {})
    factories.create_operation(db, visits["Delgadillo"], "hot-wash")
    someone = factories.someone(db)
    for code in ("teardown", "seat-cut", "port-work"):
        done = factories.create_operation(db, visits["Müllenbach"], code, price="0.00")
        done.signed_off_by_id = someone.person_id
        done.signed_off_at = factories.BY.at
        done.state = OperationState.DONE
    visits["Delgadillo"].head.notes = "Valve job elsewhere, 2019"
    db.flush()
    return past


def cut_to_38(db: Session, visit: Visit) -> None:
    """A profile of a head's first intake seat, its contact at 38 degrees."""
    layout = {"cylinders_per_head": "4", "intake_valves": "a, b, c", "exhaust_valves": "a, b"}
    ports = {"intake_ports": "", "exhaust_ports": ""}
    head_layouts.set_layout(db, factories.BY, visit.head.engine_type, layout | ports)
    contact = {"angle": "38", "width": "1.5", "outer_diameter": "26", "is_contact": True}
    cuts = [contact, {"angle": "60", "width": "1"}]
    factories.create_seat_profile(db, visit, head_diameter="27", cuts=cuts)


FACTS = {
    "39 deg": (["Delgadillo", "Beaudry-Lachance"], "Seat angle 39°, any engine"),
    "39° seats": (["Delgadillo", "Beaudry-Lachance"], "Seat angle 39°, any engine"),
    "seat angle 39": (["Delgadillo", "Beaudry-Lachance"], "Seat angle 39°, any engine"),
    "39 deg exhaust": (["Delgadillo"], "Seat angle 39°, exhaust, any engine"),
    "seat 39": (["Delgadillo", "Beaudry-Lachance"], "Seat angle 39°, any engine"),
    "seat 38": (["Müllenbach"], "Seat angle 38°, any engine"),
    "38° seats, exhaust": ([], "Seat angle 38°, exhaust, any engine"),
    "38.8 deg": ([], "Seat angle 38.8°, any engine"),
    "drag": (["Müllenbach"], "Purpose drag, any engine"),
    "methanol": (["Müllenbach"], "Fuel methanol, any engine"),
    "ethanol": (["Delgadillo"], "Fuel ethanol, any engine"),
    "gasoline": (["Delgadillo"], "Fuel gasoline, any engine"),
    "fuel E85": (["Beaudry-Lachance"], "Fuel e85, any engine"),
    "turbocharged": (["Beaudry-Lachance", "Müllenbach"], "Turbocharged, any engine"),
    "supercharged": (["Delgadillo"], "Supercharged, any engine"),
    "naturally aspirated": (["Garage"], "Naturally aspirated, any engine"),
    "2 in intake valve": (["Beaudry-Lachance"], "Intake valve head 2 in, any engine"),
    "50.8 mm valve": (["Beaudry-Lachance"], "Valve head 50.8 mm, any engine"),
    "intake valve 2 inch": (["Beaudry-Lachance"], "Intake valve head 2 in, any engine"),
    "2 in exhaust valve": ([], "Exhaust valve head 2 in, any engine"),
    "exhaust": (["Müllenbach"], "Exhaust side tested, any engine"),
    "8 cylinders": (LARGE, "8 cylinders, any engine"),
    "hot wash": (["Garage"], "Step done: Hot-wash, any engine"),
    "hot-wash": (["Garage"], "Step done: Hot-wash, any engine"),
    "seat cut": (["Müllenbach"], "Step done: Cut seats, any engine"),
    "Cut seats": (["Müllenbach"], "Step done: Cut seats, any engine"),
    "valve job": (
        ["Delgadillo", "Müllenbach"], "Step done: Cut seats, or “valve job” in notes, any engine",
    ),
    "port work": (["Müllenbach"], "Step done: Port, any engine"),
    "Port": (["Müllenbach"], "Step done: Port, any engine"),
    "Vantera porting": (["Müllenbach"], None),
    "teardown": (["Müllenbach"], "Step done: Tear down, or “teardown” in notes, any engine"),
    "marine turbo": (["Beaudry-Lachance"], "Purpose marine, turbocharged, any engine"),
    "“drag” shelf": (["Garage"], None),
    "Vantera drag": (
        ["Müllenbach"], "Purpose drag, “Vantera” (engine Vantera; or in numbers and notes)",
    ),
    "turbocharged 342 39 deg": (
        ["Beaudry-Lachance"],
        "Seat angle 39°, turbocharged, “342” (displaces 342 in³; or in numbers and notes)",
    ),
    "V8 on 39 deg, Zoe": (["Beaudry-Lachance"], None),
    "turbocharged 289 39 deg": ([], None),
}  # fmt: skip


@pytest.mark.slow
def test_facts_asked_for_find_exactly_the_jobs_that_have_them_and_it_is_told_how(
    db: Session, worked: dict[str, Job], subtests: pytest.Subtests
):
    for text, (wanted, understood) in FACTS.items():
        with subtests.test(text):
            assert names_found(db, worked, text) == wanted
            if understood:
                assert past_jobs.look_up(db, text).understood == understood


def test_a_fact_is_a_reason(db: Session, worked: dict[str, Job]):
    (row,) = past_jobs.past_jobs(db, "Vantera drag")
    assert row.why == "engine Vantera; purpose drag"


def test_a_name_on_file_is_no_fact(db: Session, worked: dict[str, Job]):
    factories.create_engine_type(db, builder="Trewarrick Marine", family="Gannet")
    factories.create_customer(db, name="Drag Street Garage")
    for text in ("Trewarrick Marine", "drag street garage"):
        assert past_jobs.past_jobs(db, text) == []
        assert f"“{text}”" in past_jobs.look_up(db, text).understood


def test_digits_that_contradict_an_engine_type_exclude_it(db: Session, worked: dict[str, Job]):
    for text in ("Ironside 289", "Delmarra 289", "289", "Ironside V6", "v 19-t"):
        assert names_found(db, worked, text) == [], text
    for text in ("Ironsde 342", "Ironside 34", "Delmara Ironside V8", "v 18-t"):
        assert names_found(db, worked, text) in (LARGE, SMALL), text


def test_a_decimal_is_no_part_of_a_number(
    db: Session, past: dict[str, Job], subtests: pytest.Subtests
):
    past["Garage"].earlier_number = "19.31"
    db.flush()
    for text, wanted in {
        "2.02": [],
        "0.26": [],
        "19.31": ["Garage"],
        "9.31": [],
    }.items():
        with subtests.test(text):
            assert names_found(db, past, text) == wanted


WHY = {
    "vantra": "engine Vantera",
    "1.8 L": "displaces 1792 cm³",
    "342 cu in": "displaces 342 in³",
    "eigthteen five valve": "Vantera V18T 20-valve is also called eighteen five valve",
    "mulenbach": "customer Jürgen Müllenbach",
    "vt 202 582": "casting number VT-20.2 58/2",
    "b-38840": "serial B 38840",
    "2026-0003": "number 2026-0003-A",
    "wish2": "asked for: “Wants wish2 work”",
    "corroded at port 3": "condition: “corroded at port 3”",
    "shelf 1": "job notes: “shelf 1 of 100%”",
    "wish2 work\nshelf": "notes",
    "342 ci Zoe": "displaces 342 in³; customer Zoé Beaudry-Lachance",
}


def test_each_row_says_why_it_was_found(
    db: Session, past: dict[str, Job], subtests: pytest.Subtests
):
    for text, wanted in WHY.items():
        with subtests.test(text):
            rows = past_jobs.past_jobs(db, text)
            assert rows
            assert {row.why for row in rows} == {wanted}


def test_notes_are_found_with_and_without_their_accents_on_any_database(
    db: Session, by: Actor, past: dict[str, Job], subtests: pytest.Subtests
):
    job = past["Garage"]
    jobs.change(db, by, job, {"notes": "Brought in by Señor ÖZTÜRK, the cracked one " + "x" * 90})
    for text in ("öztürk", "ozturk", "ÖZTURK", "senor", "SEÑOR", "cracked one"):
        with subtests.test(text):
            assert names_found(db, past, text) == ["Garage"]
    (row,) = past_jobs.past_jobs(db, "one xxx")
    assert row.why == f"job notes: “…ÖZTÜRK, the cracked one {'x' * 36}…”"


def test_notes_of_operations_and_tests_are_found(db: Session, past: dict[str, Job]):
    (visit,) = past["Müllenbach"].heads
    step = factories.create_operation(db, visit)
    step.notes = "Divider thinned to the last"
    session = factories.create_session(db, visit, INTAKE_US)
    session.notes = "Clay radius borrowed"
    db.flush()
    assert [row.why for row in past_jobs.past_jobs(db, "divider thinned")] == [
        "step notes: “Divider thinned to the last”"
    ]
    assert [row.why for row in past_jobs.past_jobs(db, "clay radius")] == [
        "test notes: “Clay radius borrowed”"
    ]
