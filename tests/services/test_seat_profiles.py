"""Seat profiles: saved as typed, prefilled, copied to a side, printed once for all alike."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, ValidationError
from shopflow.models import SeatProfile, Visit, When
from shopflow.services.hand_off import sheets as hand_off_sheets
from shopflow.services.measuring import (
    measurements,
    seat_defaults,
    seat_entry,
    seat_profiles,
    usual_values,
)
from shopflow.services.paperwork import seat_sheets
from shopflow.services.routing import work_orders
from shopflow.units import SI, US_CUSTOMARY
from tests import factories
from tests.factories import BY, SEAT
from tests.optional import present
from tests.services.expecting import assert_logged, last_entry


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of four cylinders with two valves on each side."""
    factories.create_shop(db)
    return factories.create_planned_visit(db)


def save(db: Session, visit: Visit, when: When = When.AFTER, **values: Any) -> SeatProfile:
    return factories.create_seat_profile(db, visit, "intake", when, **values)


def test_a_profile_is_kept_as_typed_and_logged(db: Session, visit: Visit):
    row = save(db, visit)
    assert [cut.angle.text for cut in row.cuts] == ["30 deg", "45 deg", "60 deg"]
    assert [cut.position for cut in row.cuts] == [1, 2, 3]
    assert present(row.cuts[1].outer_diameter).text == "43 mm"
    assert present(row.head_place).label == "cylinder 1, front intake seat"
    assert "45 deg 1.5 mm Ø 43 mm (seat)" in last_entry(db, row).note
    save(db, visit, margin="1.1 mm", cuts=SEAT["cuts"][:2])
    assert_logged(db, row, BY, "changed", margin=["1.2 mm", "1.1 mm"])
    assert "60 deg" in last_entry(db, row).changes["cuts"][0]
    assert "60 deg" not in last_entry(db, row).changes["cuts"][1]
    assert (row.version, len(row.cuts), len(visit.seat_profiles)) == (2, 2, 1)


def test_bare_numbers_are_in_the_shops_unit_and_in_degrees(db: Session, visit: Visit):
    cuts = [{"angle": "45°", "width": ".060", "outer_diameter": "1.7"}, {"angle": "", "tool": ""}]
    entry = seat_entry.read({"cuts": cuts}, US_CUSTOMARY)
    (cut,) = entry.cuts
    assert [cut[name].text for name in ("angle", "width", "outer_diameter")] == [
        "45 deg", ".060 in", "1.7 in"
    ]  # fmt: skip
    assert cut["is_contact"]


CONTACT = {"angle": "45", "width": "1.5", "outer_diameter": "43", "is_contact": True}
WRONG: dict[str, tuple[dict[str, Any], list[str], str]] = {
    "nothing": ({"cuts": []}, ["cuts-0-angle"], "angle of the first cut"),
    "not a number": ({"cuts": [CONTACT, {"angle": "steep"}]}, ["cuts-1-angle"], "not a number"),
    "no angle": ({"cuts": [{"width": "1"}, CONTACT]}, ["cuts-0-angle"], "required"),
    "past the axis": ({"cuts": [CONTACT, {"angle": "91", "width": "1"}]}, ["cuts-1-angle"], "90"),
    "no steeper": (
        {"cuts": [CONTACT, {}, {"angle": "30", "width": "1"}]}, ["cuts-2-angle"],
        "30° cut is no steeper than the 45° cut",
    ),
    "no contact": (
        {"cuts": [{"angle": "30", "width": "1"}, {**CONTACT, "is_contact": False}]},
        ["cuts-0-is_contact"], "choose one cut",
    ),
    "overlap": (
        {"cuts": [CONTACT, {"angle": "60", "width": "1", "outer_diameter": "42"}]},
        ["cuts-0-width"], "overlap: by its width this one ends at 40.88 mm, but the next begins at",
    ),
    "gap": (
        {"cuts": [CONTACT, {"angle": "60", "width": "1", "outer_diameter": "40"}]},
        ["cuts-0-width"], "gap",
    ),
    "no size": ({"cuts": [CONTACT, {"angle": "60"}]}, ["cuts-1-width"], "the throat diameter"),
    "outside the valve": (
        {"cuts": [CONTACT], "head_diameter": "42"}, ["cuts-0-outer_diameter"],
        "43.00 mm is outside the valve of 42.00 mm",
    ),
    "radius": (
        {"cuts": [{**CONTACT, "blend_radius": "20"}]}, ["cuts-0-blend_radius"],
        "leaves nothing of the 45° cut",
    ),
    "throat": (
        {"cuts": [CONTACT], "throat_diameter": "42"}, ["throat_diameter"], "wider than the last cut"
    ),
    "below nothing": ({"cuts": [CONTACT], "margin": "-1"}, ["margin"], "0 or more"),
}  # fmt: skip


@pytest.mark.parametrize(("values", "keys", "words"), WRONG.values(), ids=WRONG.keys())
def test_impossible_seats_are_refused_in_words(values: dict[str, Any], keys: list[str], words: str):
    with pytest.raises(ValidationError, match=words) as caught:
        seat_entry.read(values, SI)
    assert [fault.key for fault in caught.value.faults] == keys


def test_a_worn_seat_may_lie_outside_the_valve_on_arrival():
    entry = seat_entry.read({"cuts": [CONTACT], "head_diameter": "42"}, SI, When.BEFORE)
    assert not entry.seat.is_inside_valve


def test_copying_gives_the_whole_side_the_profile(db: Session, visit: Visit):
    row = save(db, visit)
    second = seat_profiles.seat_at(visit, 2, "intake", 2)
    other = seat_profiles.save(db, BY, visit, second, When.AFTER, {"cuts": [CONTACT]}, SI)
    assert seat_profiles.copy_to_side(db, BY, row) == 7
    assert len(visit.seat_profiles) == 8
    assert {seat_profiles.in_words(each.cuts) for each in visit.seat_profiles} == {
        seat_profiles.in_words(row.cuts)
    }
    assert last_entry(db, other).verb == "changed"
    (rows,) = seat_sheets.distinct(visit, When.AFTER)
    assert seat_sheets.title(rows) == "Intake, all 8 seats"
    save(db, visit, cuts=[CONTACT])
    titles = [seat_sheets.title(rows) for rows in seat_sheets.distinct(visit, When.AFTER)]
    assert titles[0] == "Cylinder 1, front intake seat"
    assert seat_sheets.distinct(visit, When.BEFORE) == []


def test_a_form_starts_from_the_usual_seat_and_what_was_measured(db: Session, visit: Visit):
    engine_type, seat = visit.head.engine_type, seat_profiles.seat_at(visit, 1, "intake", 1)
    assert seat_defaults.start(db, visit, seat, When.AFTER).cuts == ()
    kind = measurements.kind_by_code(db, "throat diameter")
    usual_values.set_(db, BY, engine_type, kind, {"value": "38 mm", "side": "intake"})
    usual = seat_profiles.save_usual(db, BY, engine_type, "intake", SEAT, SI)
    margin = measurements.kind_by_code(db, "valve margin")
    place = {"cylinder": 1, "side": "intake", "valve": "front"}
    measurements.record(db, BY, visit, margin.id, {**place, "value": "1.1 mm", "when": "before"})
    start = seat_defaults.start(db, visit, seat, When.AFTER)
    assert (start.profile, start.usual) == (None, usual)
    assert len(start.cuts) == 3
    texts = {name: value.text for name, value in start.values.items() if value}
    assert texts == {"head_diameter": "44.5 mm", "margin": "1.1 mm", "throat_diameter": "38 mm"}
    arrived = seat_defaults.start(db, visit, seat, When.BEFORE)
    assert (arrived.cuts, list(arrived.values), arrived.offers_usual) == ((), ["margin"], True)
    assert len(seat_defaults.start(db, visit, seat, When.BEFORE, fill=True).cuts) == 3
    row = save(db, visit, margin="1.3 mm")
    assert seat_defaults.start(db, visit, seat, When.AFTER).profile is row


def test_removing_leaves_the_log(db: Session, visit: Visit):
    row = save(db, visit)
    key = row.id
    seat_profiles.remove(db, BY, row)
    assert visit.seat_profiles == []
    with pytest.raises(NotFoundError):
        seat_profiles.get(db, key)


def test_a_head_lacks_seats_it_does_not_have(db: Session, visit: Visit):
    with pytest.raises(NotFoundError):
        seat_profiles.seat_at(visit, 9, "intake", 1)
    with pytest.raises(NotFoundError):
        seat_profiles.seats_of(factories.create_visit(db))


def test_the_work_order_has_what_is_to_be_cut_once(db: Session, visit: Visit):
    seat_profiles.save_usual(db, BY, visit.head.engine_type, "exhaust", SEAT, SI)
    seat_profiles.copy_to_side(db, BY, save(db, visit))
    (head,) = work_orders.work_order(db, visit.job).heads
    assert [sheet.title for sheet in head.seats] == ["Intake, all 8 seats"]
    factories.create_operation(db, visit, "seat-cut")
    (head,) = work_orders.work_order(db, visit.job).heads
    assert [sheet.title for sheet in head.seats] == [
        "Intake, all 8 seats", "Exhaust, usual of this engine type"
    ]  # fmt: skip


def test_the_hand_off_has_what_was_cut(db: Session, visit: Visit):
    save(db, visit, When.BEFORE)
    seat_profiles.copy_to_side(db, BY, save(db, visit))
    factories.write_hand_off(db, BY, visit)
    (sheet,) = hand_off_sheets.hand_off(db, visit).seats
    assert sheet.title == "Intake, all 8 seats"
    assert [cut.angle for cut in sheet.cuts] == ["30°", "45°", "60°"]
    assert ("Valve margin", "0.047 in") in sheet.facts
    assert "45° seat" in sheet.description


def test_a_seat_in_a_line(db: Session, visit: Visit):
    row = save(db, visit)
    assert seat_sheets.in_a_line(row, SI) == "45° seat 1.50 mm wide, 30° and 60° cuts"
    row = save(db, visit, cuts=[CONTACT])
    assert seat_sheets.in_a_line(row, SI) == "45° seat 1.50 mm wide"
