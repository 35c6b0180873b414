"""The head's own record on papers: sizes and seats on certificates, valve by valve to hand off."""

from __future__ import annotations

from typing import Any

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.documents.placed import PlaceCell
from shopflow.models import PlaceKind, Visit, When
from shopflow.services.certificates import drafts, head_facts
from shopflow.services.hand_off import by_valve, sheets
from shopflow.services.measuring import limits, measurements, seat_profiles
from shopflow.services.routing import operations
from shopflow.units import SI, US_CUSTOMARY
from tests import factories
from tests.factories import BY
from tests.optional import present

HEAD = "valve head diameter"


def measure(db: Session, visit: Visit, code: str, value: str, **where: Any) -> None:
    kind = measurements.kind_by_code(db, code)
    measurements.record(db, BY, visit, kind.id, {"value": value, **where})


def heads(db: Session, visit: Visit, side: str, *values: str, **where: Any) -> None:
    """Measure the valve heads of a side, in the order of its places."""
    places = present(visit.head.plan).places(PlaceKind.VALVE)
    for place, value in zip([item for item in places if item.side == side], values, strict=False):
        keys = {"cylinder": place.cylinder, "side": side, "valve": str(place.valve)}
        measure(db, visit, HEAD, value, **keys, **where)


@pytest.mark.parametrize(("intake", "exhaust", "lines"), [
    (["1.940 in"] * 4, ["1.600 in", "1.601 in", "1.599 in", "1.600 in"],
     ["Intake valve heads 1.940 in", "Exhaust valve heads 1.599 to 1.601 in"]),
    (["1.940 in", "1.940 in", "1.900 in", "1.940 in"], [],
     ["Intake valve heads 1.940 in, 1.900 in at cylinder 3, intake valve"]),
])  # fmt: skip
def test_sizes_of_valves_are_one_where_they_are_alike_and_by_place_where_not(
    db: Session, intake: list[str], exhaust: list[str], lines: list[str]
):
    visit = factories.create_planned_visit(db, intake="1", exhaust="1")
    heads(db, visit, "intake", *intake)
    heads(db, visit, "exhaust", *exhaust)
    assert list(head_facts.valves(visit)) == lines


def test_unlike_valves_of_one_port_are_told_by_their_names(db: Session):
    visit = factories.create_planned_visit(db)
    heads(db, visit, "intake", *["34.0 mm", "33.0 mm"] * 4)
    heads(db, visit, "intake", *["30 mm"] * 8, when=When.BEFORE)
    assert list(head_facts.valves(visit)) == ["Intake valve heads front 34.0 mm, rear 33.0 mm"]


def test_a_certificate_states_seats_in_a_line_once_they_are_cut(db: Session):
    visit = factories.create_planned_visit(db, intake="1", exhaust="1")
    step = operations.add(db, BY, visit, operations.kind_by_code(db, "seat-cut").id, {})
    seat = present(visit.head.plan).places(PlaceKind.SEAT)[0]
    row = seat_profiles.save(db, BY, visit, seat, When.AFTER, factories.SEAT, SI)
    seat_profiles.copy_to_side(db, BY, row)
    assert list(head_facts.seats(visit, US_CUSTOMARY)) == []
    operations.skip(db, BY, step, "cut elsewhere")
    db.expire(visit)
    heads(db, visit, "intake", *["44.0 mm"] * 4)
    line = "Intake, all 4 seats: 45° seat 0.059 in wide, 30° and 60° cuts"
    assert list(head_facts.seats(visit, US_CUSTOMARY)) == [line]
    session = factories.create_session(db, visit)
    draft = drafts.write(db, factories.someone(db), visit, [session], {})
    stated = drafts.stated(db, draft)
    assert (stated.valves, stated.seats) == (("Intake valve heads 44.0 mm",), (line,))
    with pymupdf.open(stream=papers.flow_certificate(stated, draft=True)) as pdf:
        words = " ".join(pdf[0].get_text().split())
    assert "Valves Intake valve heads 44.0 mm" in words
    assert f"Seats {line}" in words


def test_the_hand_off_has_every_valve_in_a_row_with_limits_exceeded_marked(db: Session):
    visit = factories.create_planned_visit(db, intake="1", exhaust="1")
    kind = measurements.kind_by_code(db, "guide clearance")
    for side, upper in (("intake", "0.0020 in"), ("exhaust", "0.0030 in")):
        limits.set_(db, BY, visit.head.engine_type, kind, side, {"upper": upper})
    for value, where in (
        ("0.0015 in", {"cylinder": 1, "side": "intake"}),
        ("0.0035 in", {"cylinder": 2, "side": "exhaust"}),
        ("0.0090 in", {"cylinder": 3, "side": "exhaust", "when": When.BEFORE}),
    ):
        measure(db, visit, "guide clearance", value, **where)
    measure(db, visit, "chamber volume", "44.6 cm3", cylinder=1)
    measure(db, visit, "head thickness", "5.010 in")
    heads(db, visit, "intake", "1.940 in")
    table = present(by_valve.by_valve(db, visit))
    assert [name for name, _ in table.columns] == [
        "Valve head diameter", "Guide clearance", "Chamber volume"
    ]  # fmt: skip
    assert [row.label for row in table.rows] == ["1 intake", "2 exhaust"]
    first, second = table.rows[0].cells, table.rows[1].cells
    assert [present(cell).value for cell in first] == ["1.940", "0.0015", "44.6"]
    assert (second[0], present(second[1]).value, second[2]) == (PlaceCell(), "0.0035", None)
    assert (table.outside, present(second[1]).is_outside) == (1, True)
    assert [(row.label, present(row.cells[1]).value) for row in table.limits] == [
        ("Limits, intake", "to 0.0020"), ("Limits, exhaust", "to 0.0030")
    ]  # fmt: skip
    factories.write_hand_off(db, BY, visit)
    sheet = sheets.hand_off(db, visit)
    assert [row.what for row in sheet.measured] == ["Head thickness"]
    with pymupdf.open(stream=papers.hand_off(sheet)) as pdf:
        words = " ".join(" ".join(page.get_text().split()) for page in pdf)
    assert "Each valve as measured 1 value is outside its limits, marked ▲." in words
    assert "▲ 0.0035" in words


def test_a_head_without_a_layout_has_its_measurements_in_a_list(db: Session):
    visit = factories.create_visit(db)
    measure(db, visit, "installed height", "1.800 in", cylinder=1, side="intake")
    assert by_valve.by_valve(db, visit) is None
    factories.write_hand_off(db, BY, visit)
    assert [row.what for row in sheets.hand_off(db, visit).measured] == [
        "Installed height of the spring"
    ]
