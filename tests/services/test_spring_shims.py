"""Shims under springs, valve by valve."""

from __future__ import annotations

from sqlalchemy.orm import Session

from shopflow.models import Visit
from shopflow.services.measuring import measurements, usual_values
from shopflow.services.springs import sheets, shims
from tests import factories
from tests.factories import BY


def measure(db: Session, visit: Visit, value: str, **where: object) -> None:
    kind = measurements.kind_by_code(db, "installed height")
    values = {"cylinder": 1, "side": "intake", "valve": "front", "value": value, **where}
    measurements.record(db, BY, visit, kind.id, values)


def test_each_valve_has_its_shims_the_worst_is_named_and_all_are_summed(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, "installed height")
    assert sheets.of_head(db, visit) == []
    assert shims.worst([]) is None
    measure(db, visit, "1.823 in", when="before")
    measure(db, visit, "1.822 in", valve="rear")
    measure(db, visit, "1.790 in", cylinder=2)
    measure(db, visit, "46.0 mm", cylinder=3, side="exhaust", valve="rear")
    assert sheets.of_head(db, visit) == []
    usual = {"value": "1.800 in", "source": "manual"}
    usual_values.set_(db, BY, visit.head.engine_type, kind, usual)
    head = sheets.of_head(db, visit)
    assert [(item.label, item.text, item.is_low) for item in head] == [
        ("cylinder 1, front intake valve", "0.020 in", False),
        ("cylinder 1, rear intake valve", "0.020 in", False),
        ("cylinder 2, front intake valve", "0.000 in", True),
        ("cylinder 3, rear exhaust valve", "0.010 in", False),
    ]
    assert shims.to_pick(head) == [(2, "0.020 in"), (1, "0.010 in")]
    worst = shims.worst(head)
    assert worst is not None
    assert worst.label == "cylinder 1, front intake valve"
    measure(db, visit, "1.801 in")
    assert sheets.of_head(db, visit)[0].text == "0.000 in"


def test_a_valves_own_wanted_height_goes_first(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, "installed height")
    engine_type = visit.head.engine_type
    usual_values.set_(db, BY, engine_type, kind, {"value": "40.0 mm"})
    own = {"value": "39.0 mm", "side": "intake", "valve": "front"}
    usual_values.set_(db, BY, engine_type, kind, own)
    measure(db, visit, "40.25 mm")
    measure(db, visit, "40.25 mm", valve="rear")
    assert [item.text for item in sheets.of_head(db, visit)] == ["1.2 mm", "0.2 mm"]
