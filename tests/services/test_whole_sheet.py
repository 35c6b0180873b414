"""A whole sheet recorded at once is what `measurements.record` would have left."""

from __future__ import annotations

from typing import Any

from sqlalchemy.orm import Session

from shopflow.models import Measurement, Visit, When
from shopflow.services.actor import Actor
from shopflow.services.measuring import limits, measurements, whole_sheet
from shopflow.services.measuring.whole_sheet import Value
from tests import factories
from tests.services.expecting import faults_at, log_of

COLUMNS = {
    "installed height": "1.80 in",
    "insert bore": "34.000 mm",
    "insert diameter": "34.110 mm",
    "stem diameter top": "0.3415 in",
    "stem diameter bottom": "0.3402 in",
    "chamber volume": "58.2 cm3",
    "deck flatness": "0.04 mm",
}


def sheet_of(db: Session, visit: Visit) -> list[Value]:
    """Every one of those at each of its places, after the work."""
    plan = visit.head.plan
    assert plan is not None
    kinds = [measurements.kind_by_code(db, code) for code in COLUMNS]
    return [
        Value(kind, place, When.AFTER, COLUMNS[kind.code])
        for kind in kinds
        for place in plan.places(kind.place_kind)
    ]


def plain(row: Measurement) -> tuple[Any, ...]:
    """A measurement without its key."""
    return (
        row.kind.code, row.cylinder, row.side, row.valve, row.when, str(row.value), row.limits,
        row.calculated, row.at, row.person_id,
    )  # fmt: skip


def test_all_at_once_leaves_the_same_as_one_by_one(db: Session, machinist: Actor):
    item, all_at_once = (factories.create_planned_visit(db) for _ in range(2))
    for visit in (item, all_at_once):
        for code, upper in (("installed height", "1.79 in"), ("seat interference", "0.13 mm")):
            kind = measurements.kind_by_code(db, code)
            limits.set_(db, machinist, visit.head.engine_type, kind, "", {"upper": upper})
    for value in sheet_of(db, item):
        cylinder, side, valve = value.place.key
        place = {"cylinder": cylinder, "side": side, "valve": valve, "when": value.when}
        values = {**place, "value": value.typed}
        measurements.record(db, machinist, item, value.kind.id, values)
    whole_sheet.record_all(db, machinist, all_at_once, sheet_of(db, all_at_once))
    db.flush()
    assert sorted(map(plain, item.measurements), key=repr) == sorted(
        map(plain, all_at_once.measurements), key=repr
    )
    # 16 valves with five kinds, wear and interference; four chambers; the deck.
    assert len(all_at_once.measurements) == 16 * 7 + 4 + 1
    (deck,) = [row for row in all_at_once.measurements if row.kind.code == "deck flatness"]
    assert [entry.verb for entry in log_of(db, deck)] == ["measured"]


def test_an_implausible_value_is_refused_at_its_kind(db: Session, machinist: Actor):
    visit = factories.create_planned_visit(db)
    value = sheet_of(db, visit)[0]
    with faults_at("installed height"):
        wrong = Value(value.kind, value.place, value.when, "180 in")
        whole_sheet.record_all(db, machinist, visit, [wrong])
