"""The measurement sheet, measurement types, head layouts and usual values on their pages."""

from __future__ import annotations

from typing import Any

import pytest

from shopflow.models import MeasurementKind, Role, When
from shopflow.services.measuring import measurements, sheets, usual_values
from shopflow.services.routing import operation_kinds, operations
from shopflow.units import US_CUSTOMARY
from shopflow.web.api.shapes import Measurement
from tests import factories


@pytest.fixture
def visit(db):
    """A four-valve head in the shop."""
    planned_visit = factories.create_planned_visit(db)
    db.commit()
    return planned_visit


def names(db, visit, code: str = "installed height", when: When = When.AFTER) -> list[str]:
    """The names of a column's cells."""
    chosen = sheets.usual_columns(db, visit, None, [code])
    answer = sheets.sheet(db, visit, None, chosen, sheets.Units(US_CUSTOMARY))
    return [name for name, cell in answer.cells.items() if cell.when is when]


def send(client, address: str, page: Any, cells: dict[str, str]) -> Any:
    """Send some cells as the page's script does; its answer."""
    token = page.value("csrf_token")
    seen = {f"seen-{name}": "" for name in cells}
    return client.post(address, data={"csrf_token": token, **seen, **cells})


def test_a_sheet_is_saved_whole_without_a_script(client, db, visit):
    first, second, *_ = names(db, visit)
    page = client.page(f"/heads/{visit.tag}/sheet?kind=installed height")
    page = client.submit(page, {first: "1.80", second: "45.9 mm"})
    assert page.notices[0] == "Saved: 2 measurements."
    assert (page.value(first), page.value(second)) == ("1.80", "45.9 mm")
    assert [row.value.text for row in visit.measurements] == ["1.80 in", "45.9 mm"]
    page = client.submit(page, {first: "1.81"})
    assert page.notices[0] == "Saved: 1 measurement."
    assert page.value(first) == "1.81"


def test_a_fault_keeps_everything_typed_and_saves_nothing(client, db, visit):
    first, second, *_ = names(db, visit)
    page = client.page(f"/heads/{visit.tag}/sheet?kind=installed height")
    page = client.submit(page, {first: "1.80", second: "thick"}, status=422)
    assert "not a number and a unit" in page.fault(second)
    assert (page.value(first), page.value(second)) == ("1.80", "thick")
    assert visit.measurements == []
    page = client.submit(page, {second: "1.79"})
    assert page.notices[0] == "Saved: 2 measurements."


def test_cells_are_saved_one_by_one_and_answered_as_they_are(client, db, visit):
    first, second, third, *_ = names(db, visit)
    page = client.page(f"/heads/{visit.tag}/sheet?kind=installed height")
    address = f"/heads/{visit.tag}/sheet/cells?kind=installed height"
    answer = send(client, address, page, {first: "1.80", second: "thick"}).get_json()
    assert answer["cells"] == {
        first: {"text": "1.80", "state": "no limit", "words": "", "limits": "", "doubt": ""}
    }
    assert "not a number" in answer["faults"][second]
    assert "<svg" in answer["summary"]
    assert len(visit.measurements) == 1
    answer = send(client, address, page, {first: "1.79", third: "1.78"}).get_json()
    assert answer["now"] == {first: "1.80"}
    assert "meanwhile" in answer["faults"][first]
    assert list(answer["cells"]) == [third]
    for name in ("cell-x", "cell-1-9-intake-1-after"):
        assert send(client, address, page, {name: "1"}).status_code == 404


def test_a_step_says_how_far_it_is_and_leads_to_its_sheet(client, db, by, visit):
    kind = operations.kind_by_code(db, "assembly")
    asks = {"asks_for": ["installed height"], "asks_where": {"installed height": "every"}}
    operation_kinds.change(db, by, kind, asks)
    step = operations.add(db, by, visit, kind.id, {"price": "60"})
    factories.approve(db, by, visit.job)
    db.commit()
    page = client.page(f"/heads/{visit.tag}")
    client.submit(page, {}, action=f"/steps/{step.id}/start")
    page = client.page(f"/heads/{visit.tag}")
    assert "0 of 16" in page.text
    page = client.page(page.links["Measurement sheet"])
    filled = dict.fromkeys(names(db, visit)[:11], "1.80")
    page = client.submit(page, filled)
    assert "11 of 16" in page.text
    assert "cylinder 3, rear exhaust spring" in page.text
    assert {row.operation_id for row in visit.measurements} == {step.id}


def test_a_head_without_a_layout_leads_to_it_and_back(client, db):
    visit = factories.create_visit(db, engine_type=factories.create_engine_type(
        db, valves_per_cylinder="5"))  # fmt: skip
    db.commit()
    page = client.page(f"/heads/{visit.tag}/sheet")
    page = client.page(page.links["Add head layout"])
    assert page.value("intake_valves") == "front, middle, rear"
    assert page.value("exhaust_valves") == "front, rear"
    page = client.submit(page, {"exhaust_ports": "1, 2"}, status=422)
    assert "each of cylinders" in page.fault("exhaust_ports")
    page = client.submit(page, {"exhaust_ports": "1, 2+3, 4"})
    assert page.heading == "Measurement sheet"
    db.expire_all()
    plan = visit.head.plan
    assert plan is not None
    assert plan.valve_count == 20


def test_usual_values_are_set_and_removed(client, db, visit):
    engine_type = visit.head.engine_type
    kind = measurements.kind_by_code(db, "valve head diameter")
    address = f"/engines/{engine_type.id}/usual-values"
    typed = {"kind_id": str(kind.id), "side": "intake", "value": "34 mm", "valve": "rear"}
    page = client.submit(address, typed)
    assert ["Valve head diameter", "rear intake", "34 mm"] in [row[:3] for row in page.rows]
    page = client.submit(address, {**typed, "value": "34 psi"}, action=address, status=422)
    assert "not of length" in page.fault("value")
    page = client.press(address, "Remove value")
    assert page.notices == ["The usual value of Valve head diameter was removed."]
    assert usual_values.of_engine_type(db, engine_type) == []


def test_measurement_types_are_added_changed_ordered_and_archived(client, db):
    page = client.page("/measurement-kinds")
    assert "Guide bore" in page.text
    typed = {"name": "Rocker stud height", "place_kind": "valve", "us_decimals": "3"}
    page = client.submit("/measurement-kinds/new", {**typed, "least": "x"}, status=422)
    assert page.fault("least")
    page = client.submit(page, {"least": "1 mm", "greatest": "90 mm"})
    assert page.notices == ["Rocker stud height was added."]
    kind = db.query(MeasurementKind).filter_by(name="Rocker stud height").one()
    page = client.submit(f"/measurement-kinds/{kind.id}/change", {"name": "Stud height"})
    for way in ("up", "down", "archive", "restore"):
        page = client.submit(page, {}, action=f"/measurement-kinds/{kind.id}/{way}")
    assert page.notices == ["Stud height is restored."]
    token = page.value("csrf_token")
    wrong = client.post(f"/measurement-kinds/{kind.id}/sideways", data={"csrf_token": token})
    assert wrong.status_code == 404
    built_in = measurements.kind_by_code(db, "guide bore")
    page = client.page(f"/measurement-kinds/{built_in.id}/change")
    assert not page.tree.xpath("//main//*[@name='dimension']")


def test_how_many_places_a_step_asks_for_is_set_on_its_page(client, db):
    kind = operations.kind_by_code(db, "assembly")
    address = f"/step-kinds/{kind.id}/places"
    typed = {"rows-0-how": "each cylinder", "rows-1-how": "number", "rows-1-count": "6"}
    client.submit(address, {**typed, "rows-2-how": ""})
    db.expire_all()
    assert kind.asks_where == {"installed height": "each cylinder", "seat load": "6"}
    page = client.page(address)
    assert (page.value("rows-1-how"), page.value("rows-1-count")) == ("number", "6")
    page = client.submit(page, {"rows-1-count": "500"}, status=422)
    assert "from 2 to 200" in page.alerts.lower() or "from 2 to 200" in page.text


def test_the_counter_sees_the_sheet_and_fills_none_of_it(signed_in, db, visit):
    page = signed_in(Role.COUNTER).page(f"/heads/{visit.tag}/sheet?kind=installed height")
    assert "Cylinder 1, front intake" in page.text
    assert not page.tree.xpath("//input[@class='cell-input']")


def test_a_single_measurement_names_its_valve_as_well(client, db, visit):
    kind = measurements.kind_by_code(db, "guide clearance")
    typed = {"cylinder": "3", "side": "exhaust", "valve": "rear", "value": "0.002"}
    page = client.submit(f"/heads/{visit.tag}/measure/{kind.id}", typed)
    assert "cylinder 3, rear exhaust guide" in page.notices[0]
    assert (page.value("cylinder"), page.value("valve")) == ("4", "rear")
    (row,) = visit.measurements
    page = client.page(f"/measurements/{row.id}/correct")
    assert page.value("valve") == "rear"
    page = client.submit(page, {"valve": "front"})
    assert "cylinder 3, front exhaust guide" in page.text
    page = client.submit(f"/heads/{visit.tag}/measure/{kind.id}",
                         {**typed, "side": ""}, status=422)  # fmt: skip
    assert "choose the cylinder and side" in page.fault("valve").lower()


def test_what_is_calculated_is_refused_where_it_is_typed(client, db, visit):
    kind = measurements.kind_by_code(db, "seat interference")
    page = client.submit(f"/heads/{visit.tag}/measure/{kind.id}", {"value": "0.004"}, status=422)
    assert "outside diameter and its bore" in page.fault("value")


def test_a_program_reads_measurements_with_their_place(db, visit):
    kind = measurements.kind_by_code(db, "guide clearance")
    values = {"cylinder": "3", "side": "exhaust", "valve": "rear", "value": "0.05 mm"}
    measurements.record(db, factories.BY, visit, kind.id, values)
    shape = Measurement.of(visit.measurements[0])
    assert (shape.place, shape.valve, shape.place_kind) == (
        "cylinder 3, rear exhaust guide", 2, "guide",
    )  # fmt: skip


def test_a_volume_far_from_the_others_is_said_at_its_cell_and_on_the_page(client, db, visit):
    address = f"/heads/{visit.tag}/sheet?kind=chamber volume"
    first, second, third, _ = names(db, visit, "chamber volume")
    page = client.page(address)
    send(client, f"/heads/{visit.tag}/sheet/cells", page, {first: "47.8", second: "4.79"})
    answer = send(client, f"/heads/{visit.tag}/sheet/cells", page, {third: "48.2"}).json["cells"]
    words = "4.79 cm³ is far from the others (47.8 to 48.2 cm³). Typing error?"
    assert {name: cell["doubt"] for name, cell in answer.items() if cell["doubt"]} == {
        second: words
    }
    assert (answer[second]["state"], answer[first]["state"]) == ("doubtful", "no limit")
    page = client.page(address)
    assert page.text.count(words) == 2
    assert "Correct the volume to compare the chambers." in page.text
    assert "Grind cylinder" not in page.text
    page = client.submit(page, {second: "47.9"})
    assert "far from the others" not in page.text
    assert "Largest 48.2 cm³, cylinder 3. Grind cylinder 1 0.4 cm³ larger" in page.text
