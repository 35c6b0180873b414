"""The places of a head: from its engine type's layout, named as a porter would name them."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import ValidationError
from shopflow.models import Measurement, PlaceKind, Visit
from shopflow.services.bench import sizes
from shopflow.services.measuring import measurements, usual_values
from shopflow.services.registry import engine_types, head_layouts, heads
from tests import factories
from tests.factories import BY
from tests.services.expecting import assert_logged, faults_at, refused

LAYOUT = {
    "cylinders_per_head": "4",
    "intake_valves": "front, middle, rear",
    "exhaust_valves": "front, rear",
    "intake_ports": "",
    "exhaust_ports": "1, 2+3, 4",
}


def record(db: Session, visit: Visit, code: str, **values: object) -> Measurement:
    kind = measurements.kind_by_code(db, code)
    return measurements.record(db, BY, visit, kind.id, {"value": "7 mm", **values})


def test_a_head_gets_every_place_of_its_layout_with_a_plain_label(db: Session):
    engine_type = factories.create_engine_type(db, valves_per_cylinder="5")
    assert engine_type.plan() is None
    head_layouts.set_layout(db, BY, engine_type, LAYOUT)
    plan = factories.create_head(db, engine_type).plan
    assert plan is not None
    assert plan.valve_count == 20
    counts = {kind: len(plan.places(kind)) for kind in PlaceKind}
    assert counts == {
        "head": 1, "cylinder": 4, "port": 7, "section": 7,
        "valve": 20, "seat": 20, "guide": 20, "spring": 20,
    }  # fmt: skip
    labels = [place.label for place in plan.places(PlaceKind.VALVE)]
    assert labels[:5] == [
        "cylinder 1, front intake valve",
        "cylinder 1, middle intake valve",
        "cylinder 1, rear intake valve",
        "cylinder 1, front exhaust valve",
        "cylinder 1, rear exhaust valve",
    ]
    assert [place.label for place in plan.places(PlaceKind.PORT)][4:] == [
        "cylinder 1, exhaust port",
        "cylinders 2 and 3, shared exhaust port",
        "cylinder 4, exhaust port",
    ]
    shared = plan.place_at(PlaceKind.PORT, (3, "exhaust", None))
    assert shared is not None
    assert shared.cylinder == 2


def test_a_head_of_a_v_engine_has_its_own_cylinder_numbers(db: Session):
    engine_type = factories.create_engine_type(db, cylinders="8")
    layout = {**LAYOUT, "intake_valves": "", "exhaust_valves": ""}
    head_layouts.set_layout(db, BY, engine_type, layout)
    head = factories.create_head(db, engine_type, cylinders="1,3 5, 7")
    assert head.cylinders == "1, 3, 5, 7"
    assert head.plan is not None
    assert head.plan.cylinders == (1, 3, 5, 7)
    assert head.plan.ports["exhaust"] == ((1,), (3, 5), (7,))
    assert head.plan.places(PlaceKind.SEAT)[2].label == "cylinder 3, intake seat"
    for wrong in ("1, 3, 5", "1, 3, 5, 9", "1, 1, 2, 3", "left", "0, 1, 2, 3"):
        with faults_at("cylinders"):
            heads.change(db, BY, head, {"cylinders": wrong})


def test_a_valve_may_have_a_port_of_its_own(db: Session):
    engine_type = factories.create_engine_type(db)
    head_layouts.set_layout(db, BY, engine_type, {**LAYOUT, "intake_ports": "Each valve"})
    plan = engine_type.plan()
    assert plan is not None
    ports = [place.label for place in plan.places(PlaceKind.PORT) if place.side == "intake"]
    assert len(ports) == 12
    assert ports[1] == "cylinder 1, middle intake port"


@pytest.mark.parametrize(
    ("name", "typed", "words"),
    [
        ("cylinders_per_head", "0", "whole number from 1"),
        ("cylinders_per_head", "5", "this engine has 4 cylinders"),
        ("intake_valves", "front, Front", "a name twice"),
        ("intake_valves", "1, 2, 3, 4, 5, 6, 7", "too many"),
        ("intake_valves", "x" * 31 + ", y", "at most 30 characters"),
        ("exhaust_ports", "1, 2", "each of cylinders 1, 2, 3, 4 once"),
        ("exhaust_ports", "1, 2+2, 3, 4", "names a cylinder twice"),
        ("intake_ports", "left", "not a list of cylinders"),
    ],
)
def test_a_layout_that_cannot_be_is_refused_at_its_field(
    db: Session, name: str, typed: str, words: str
):
    engine_type = factories.create_engine_type(db)
    with pytest.raises(ValidationError) as caught:
        head_layouts.set_layout(db, BY, engine_type, {**LAYOUT, name: typed})
    (fault,) = caught.value.faults
    assert fault.key == name
    assert words in fault.message


def test_numbers_that_leave_no_doubt_need_no_layout(db: Session):
    single = factories.create_engine_type(db, cylinders="1").plan()
    assert single is not None
    assert single.valve_count == 2
    assert factories.create_engine_type(db, cylinders="1", valves_per_cylinder="4").plan() is None
    assert factories.create_engine_type(db).plan() is None


def test_the_form_of_an_engine_type_does_not_contradict_its_layout(db: Session):
    engine_type = factories.create_planned_visit(db).head.engine_type
    assert engine_type.valves_per_cylinder == 4
    with faults_at("valves_per_cylinder"):
        engine_types.change(db, BY, engine_type, {"valves_per_cylinder": "5"})
    with faults_at("cylinders"):
        engine_types.change(db, BY, engine_type, {"cylinders": "3"})
    engine_types.change(db, BY, engine_type, {"valves_per_cylinder": "4", "cylinders": "8"})
    assert engine_type.cylinders == 8


def test_a_measurement_names_its_valve_by_name_or_number(db: Session):
    visit = factories.create_planned_visit(db)
    at = {"cylinder": 3, "side": "exhaust"}
    row = record(db, visit, "guide clearance", value="0.04 mm", valve="Rear", **at)
    assert (row.valve, row.where) == (2, "cylinder 3, rear exhaust guide")
    assert record(db, visit, "stem diameter", valve="1", **at).where == (
        "cylinder 3, front exhaust valve"
    )
    with faults_at("valve"):
        record(db, visit, "stem diameter", valve="middle", **at)
    with faults_at("valve"):
        record(db, visit, "stem diameter", valve="front", cylinder=3)
    with faults_at("cylinder"):
        record(db, visit, "stem diameter", cylinder=5, side="intake")
    measurements.correct(db, BY, row, {"valve": "front", "value": "0.05 mm"})
    assert (row.valve, row.cylinder) == (1, 3)


def test_the_only_valve_of_a_side_needs_no_name(db: Session):
    visit = factories.create_visit(db)
    row = record(db, visit, "stem diameter", cylinder=2, side="intake")
    assert (row.valve, row.where) == (1, "cylinder 2 intake")
    assert record(db, visit, "stem diameter", cylinder=2).valve is None


def test_earlier_measurements_find_their_valve_where_it_is_certain(db: Session):
    engine_type = factories.create_engine_type(db, valves_per_cylinder="3")
    visit = factories.create_visit(db, engine_type=engine_type)
    at = {"cylinder": 1, "side": "intake"}
    named = record(db, visit, "stem diameter", place="rear", **at)
    unclear = record(db, visit, "stem diameter", place="the worn one", **at)
    only = record(db, visit, "stem diameter", cylinder=1, side="exhaust")
    nowhere = record(db, visit, "stem diameter")
    layout = {**LAYOUT, "intake_valves": "front, rear", "exhaust_valves": "", "exhaust_ports": ""}
    assert head_layouts.set_layout(db, BY, engine_type, layout) == 2
    assert (named.valve, named.place) == (2, "")
    assert (only.valve, unclear.valve, nowhere.valve) == (1, None, None)
    assert unclear.where == "cylinder 1 intake, the worn one"
    assert unclear.place_found is None
    assert_logged(db, engine_type, BY, "layout set")


def test_a_layout_keeps_the_valves_that_measurements_name(db: Session):
    visit = factories.create_planned_visit(db)
    record(db, visit, "stem diameter", cylinder=1, side="intake", valve="rear")
    engine_type = visit.head.engine_type
    with refused("2 intake valves per cylinder"):
        head_layouts.set_layout(db, BY, engine_type, {**LAYOUT, "intake_valves": ""})
    renamed = {**LAYOUT, "intake_valves": "primary, secondary"}
    head_layouts.set_layout(db, BY, engine_type, renamed)
    assert visit.measurements[0].where == "cylinder 1, secondary intake valve"


def test_what_is_usual_of_a_valve_goes_before_its_side_and_both(db: Session):
    engine_type = factories.create_planned_visit(db).head.engine_type
    kind = measurements.kind_by_code(db, "valve head diameter")

    def usual(side: str, valve: int | None = None) -> str:
        row = usual_values.holding(db, engine_type, kind.code, side, valve)
        return row.value.text if row else ""

    usual_values.set_(db, BY, engine_type, kind, {"value": "30 mm"})
    usual_values.set_(db, BY, engine_type, kind, {"value": "34 mm", "side": "intake"})
    own = {"value": "35 mm", "side": "intake", "valve": "rear"}
    row = usual_values.set_(db, BY, engine_type, kind, own)
    assert [usual("exhaust"), usual("intake"), usual("intake", 1), usual("intake", 2)] == [
        "30 mm", "34 mm", "34 mm", "35 mm",
    ]  # fmt: skip
    usual_values.set_(db, BY, engine_type, kind, {**own, "value": "35.5 mm"})
    assert row.value.text == "35.5 mm"
    usual_values.remove(db, BY, row)
    assert usual("intake", 2) == "34 mm"
    for name, wrong in {"value": "2 mm", "side": "left", "valve": "middle"}.items():
        with faults_at(name):
            usual_values.set_(db, BY, engine_type, kind, {**own, name: wrong})


def test_a_flow_test_starts_from_what_is_usual_until_it_is_measured(db: Session):
    visit = factories.create_planned_visit(db, intake="front, middle, rear")
    engine_type = visit.head.engine_type
    for code, value in {"valve head diameter": "26.9 mm", "seat angle": "45 deg"}.items():
        kind = measurements.kind_by_code(db, code)
        usual_values.set_(db, BY, engine_type, kind, {"value": value, "side": "intake"})
    start = sizes.starting(db, visit, "intake", "1").typed
    assert (start["head_diameter"], start["seat_angle"], start["count"]) == (
        "26.9 mm", "45 deg", "3",
    )  # fmt: skip
    assert "head_diameter" not in sizes.starting(db, visit, "exhaust", "1").typed
    record(db, visit, "valve head diameter", value="27.2 mm", side="intake")
    assert sizes.starting(db, visit, "intake", "1").typed["head_diameter"] == "27.2 mm"
