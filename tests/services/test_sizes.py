"""Sizes that a flow test of one side starts from, and the remarks on them."""

from __future__ import annotations

import dataclasses
from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow import testfile
from shopflow.calc.array_types import Against
from shopflow.calc.flowtest import Side
from shopflow.models import BenchSession, Measurement, OperationState, Visit, When
from shopflow.services.analysis import comparisons
from shopflow.services.bench import (
    port_geometry,
    port_surveys,
    sections,
    sessions,
    sheet_sizes,
    sizes,
)
from shopflow.services.measuring import measurements
from shopflow.units import parse
from tests import factories
from tests.cli.sessions import INTAKE_US
from tests.factories import BY, NOW


def measure(db: Session, visit: Visit, kind: str, value: str, by=BY, **where) -> Measurement:
    answer = measurements.kind_by_code(db, kind)
    return measurements.record(db, by, visit, answer.id, {"value": value, **where})


def flow_test(db: Session, visit: Visit, side: Side, diameter: str, day: int = 0, **values):
    document = dataclasses.replace(
        testfile.loads(INTAKE_US),
        side=side,
        head_diameter=parse(diameter, "length"),
        measured_at=NOW + timedelta(days=day),
        **{"port_area": None, **values},
    )
    by = dataclasses.replace(BY, at=NOW + timedelta(days=day))
    return sessions.store(db, by, visit, document)


def test_the_latest_measurement_of_this_very_valve_counts(db: Session):
    visit = factories.create_visit(db)
    measure(db, visit, "valve head diameter", "44.0 mm", side="intake", cylinder=2)
    measure(db, visit, "valve head diameter", "44.5 mm", side="intake", cylinder=2)
    measure(db, visit, "valve head diameter", "43.0 mm", side="intake")
    measure(db, visit, "valve head diameter", "36.0 mm", side="exhaust", cylinder=2)
    measure(db, visit, "seat angle", "39 deg", side="intake")
    typed = sizes.starting(db, visit, "intake", "2").typed
    assert (typed["head_diameter"], typed["seat_angle"]) == ("44.5 mm", "39 deg")
    assert sizes.starting(db, visit, "intake", "1").typed["head_diameter"] == "43.0 mm"


def test_a_side_starts_from_this_heads_last_test_of_that_side(db: Session):
    visit = factories.create_visit(db)
    flow_test(db, visit, "intake", "44 mm")
    flow_test(db, visit, "exhaust", "36 mm", valve_count=2)
    later = factories.create_visit(db)
    later.head = visit.head
    db.flush()
    intake = sizes.starting(db, later, "intake", "")
    exhaust = sizes.starting(db, later, "exhaust", "")
    assert intake.typed["head_diameter"] == "44 mm"
    assert (exhaust.typed["head_diameter"], exhaust.typed["count"]) == ("36 mm", "2")
    withdrawn = flow_test(db, visit, "exhaust", "35 mm", day=1)
    withdrawn.withdrawn_at, withdrawn.withdrawal_reason = NOW, "wrong valve"
    db.flush()
    assert sizes.starting(db, later, "exhaust", "").typed["head_diameter"] == "36 mm"


@pytest.mark.parametrize(
    ("valves", "intake", "exhaust"),
    [("2", "1", "1"), ("3", "2", "1"), ("4", "2", "2"), ("5", "3", "2")],
)
def test_valves_lifted_come_from_the_engine_type(db: Session, valves, intake, exhaust):
    kind = factories.create_engine_type(db, valves_per_cylinder=valves)
    visit = factories.create_visit(db, engine_type=kind)
    counts = [sizes.starting(db, visit, side, "").typed["count"] for side in ("intake", "exhaust")]
    assert counts == [intake, exhaust]


def test_a_measurement_taken_since_the_last_test_counts_and_the_difference_is_said(db: Session):
    visit = factories.create_visit(db)
    earlier = flow_test(db, visit, "intake", "44 mm")
    measure(db, visit, "valve head diameter", "43 mm", side="intake")

    assert sizes.starting(db, visit, "intake", "").typed["head_diameter"] == "44 mm"
    after = dataclasses.replace(BY, at=NOW + timedelta(days=1))
    measure(db, visit, "valve head diameter", "45 mm", by=after, side="intake")
    answer = sizes.starting(db, visit, "intake", "")
    assert answer.typed["head_diameter"] == "45 mm"
    (difference,) = answer.differences
    assert (difference.name, difference.now, difference.then, difference.earlier) == (
        "Valve head diameter",
        "45 mm",
        "44 mm",
        earlier,
    )


def test_a_size_that_differs_from_the_heads_earlier_test_is_pointed_out(db: Session):
    visit = factories.create_visit(db)
    flow_test(db, visit, "intake", "44 mm")
    typed = {"head_diameter": parse("43 mm", "length"), "seat_width": None}
    (difference,) = sizes.differing(db, visit, "intake", "", typed)
    assert (difference.now, difference.then) == ("43 mm", "44 mm")
    same = {"head_diameter": parse("4.4 cm", "length")}
    assert sizes.differing(db, visit, "intake", "", same) == []
    later = flow_test(db, visit, "intake", "43 mm", day=1)
    assert [item.now for item in sizes.of_test(db, later)] == ["43 mm"]
    assert sizes.of_test(db, visit.sessions[0]) == []


def cut(db: Session, visit: Visit, day: int):
    """A step that cuts metal, signed off some days on."""
    by = dataclasses.replace(factories.someone(db), at=NOW + timedelta(days=day))
    step = factories.create_operation(db, visit, "port-work")
    step.state = OperationState.DONE
    step.signed_off_at, step.signed_off_by_id = by.at, by.person_id
    db.flush()
    return step


def test_a_port_area_from_before_a_cut_is_not_taken_over_without_saying_so(db: Session):
    visit = factories.create_visit(db)
    measure(db, visit, "port area", "11 cm2", side="intake")
    assert sizes.starting(db, visit, "intake", "").typed["area"] == "11 cm2"
    step = cut(db, visit, day=1)
    answer = sizes.starting(db, visit, "intake", "")
    assert "area" not in answer.typed
    assert answer.outdated is not None
    assert (answer.outdated.area, answer.outdated.step) == ("11 cm2", step)
    later = dataclasses.replace(BY, at=NOW + timedelta(days=2))
    measure(db, visit, "port area", "12 cm2", by=later, side="intake")
    answer = sizes.starting(db, visit, "intake", "")
    assert (answer.typed["area"], answer.outdated) == ("12 cm2", None)


def test_sections_from_before_a_cut_say_so_at_a_later_test(db: Session):
    visit = factories.create_visit(db)
    for distance, area in (("10 mm", "11 cm2"), ("40 mm", "10 cm2")):
        measure(db, visit, "port area", area, side="intake", distance=distance, when=When.AFTER)
    first = flow_test(db, visit, "intake", "44 mm", cylinder="")
    along = sections.of_session(first)
    assert along is not None
    assert along.outdated_by == ""
    step = cut(db, visit, day=1)
    second: BenchSession = flow_test(db, visit, "intake", "44 mm", day=2, cylinder="")
    along = sections.of_session(second)
    assert along is not None
    assert along.outdated_by == step.kind.name
    assert port_geometry.setup(second).port_area is None


def test_sections_taken_after_the_work_of_a_step_are_not_outdated_by_its_sign_off(db: Session):
    visit = factories.create_visit(db)
    step = cut(db, visit, day=1)
    area = measure(db, visit, "port area", "11 cm2", side="intake", distance="10 mm", when="after")
    area.operation = step
    db.flush()
    tested = flow_test(db, visit, "intake", "44 mm", day=2, cylinder="")
    assert port_surveys.outdated_by(tested) == ""
    assert sizes.starting(db, visit, "intake", "").outdated is None
    area.when = When.BEFORE
    db.flush()
    assert port_surveys.outdated_by(tested) == step.kind.name


def test_diameters_that_are_not_those_of_the_sheet_are_named(db: Session):
    visit = factories.create_visit(db)
    for cylinder, size in ((2, "43.00 mm"), (2, "43.40 mm"), (None, "43.44 mm")):
        where: dict[str, object] = {"side": "intake", "cylinder": cylinder, "when": "before"}
        measure(db, visit, "valve head diameter", size, **where)
    measure(db, visit, "valve head diameter", "44 mm", side="intake", cylinder=2, when="after")
    tested = flow_test(db, visit, "intake", "44 mm", cylinder="2")
    # By hand: the mean of 43.40 and 43.44, from which 44 is 1.3 % off.
    assert sheet_sizes.unlike(tested) == ["valve head diameter 44 mm, sheet 43.42 mm"]
    member = comparisons.members([tested])[0]
    cautions = comparisons.difference(member, member, Against.LIFT).cautions
    assert "sheet 43.42 mm" in cautions[-1]
    step = cut(db, visit, day=1)
    later = flow_test(db, visit, "intake", "44 mm", day=2, cylinder="2")
    later.after_operation = step
    db.flush()
    assert sheet_sizes.unlike(later) == []


def test_a_section_opened_by_the_work_is_set_beside_the_difference(db: Session):
    visit = factories.create_visit(db)
    where = {"side": "intake", "distance": "25 mm"}
    measure(db, visit, "port area", "1246 mm2", when="before", **where)
    before = flow_test(db, visit, "intake", "44 mm", cylinder="")
    step = cut(db, visit, day=1)
    by = dataclasses.replace(BY, at=NOW + timedelta(days=1))
    measure(db, visit, "port area", "1322 mm2", by=by, when="after", **where)
    after = flow_test(db, visit, "intake", "44 mm", day=2, cylinder="")
    after.after_operation = step
    db.flush()
    assert port_surveys.least_change(before, after) == pytest.approx((1246e-6, 1322e-6))
    assert port_surveys.least_change(after, after) is None
