"""Heads found by what was measured on them, exactly those that have it."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Visit
from shopflow.services.actor import Actor
from shopflow.services.measuring import measurements
from shopflow.services.routing import operations
from shopflow.services.search import past_jobs, search
from tests import factories


def measure(db: Session, by: Actor, visit: Visit, code: str, value: str, **where: Any) -> None:
    """One measurement of a head."""
    kind = measurements.kind_by_code(db, code)
    measurements.record(db, by, visit, kind.id, {"value": value, **where})


@pytest.fixture
def heads(db: Session, by: Actor) -> dict[str, Visit]:
    """Three heads: a large one measured in inches, a small one in millimetres, a bare one."""
    factories.create_shop(db)
    by_name = {name: factories.create_visit(db) for name in ("large", "small", "bare")}
    intake, exhaust = ({"side": side, "cylinder": "1"} for side in ("intake", "exhaust"))
    measure(db, by, by_name["large"], "valve head diameter", "1.90 in", **intake)
    measure(db, by, by_name["large"], "stem diameter", "0.3412 in", **intake)
    measure(db, by, by_name["large"], "seat angle", "45 deg", **intake)
    measure(db, by, by_name["small"], "valve head diameter", "34.50 mm", **intake)
    measure(db, by, by_name["small"], "stem diameter top", "5.478 mm", **exhaust)
    measure(db, by, by_name["small"], "seat angle", "39 deg", **exhaust)
    measure(db, by, by_name["small"], "guide clearance", "0.052 mm", **intake)
    measure(db, by, by_name["small"], "chamber volume", "40.5 cm3", cylinder="1")
    for name, text in (("large", "All eight, manganese bronze."), ("small", "Cast iron, reamed")):
        kind = operations.kind_by_code(db, "guide")
        operations.add(db, by, by_name[name], kind.id, {"instructions": text})
    wash = operations.kind_by_code(db, "hot-wash")
    operations.add(db, by, by_name["bare"], wash.id, {"instructions": "bronze guides stay in"})
    return by_name


FOUND = {
    "valve 1.90 in": {"large"},
    "valve 1.90 inch": {"large"},
    "intake valve head diameter 1.90 in": {"large"},
    "exhaust valve 1.90 in": set(),
    "valve 1.94 in": set(),
    "valve 34.5 mm": {"small"},
    "seat 39": {"small"},
    "seat 39°": {"small"},
    "seats 45": {"large"},
    "seat 45 intake": {"large"},
    "seat 39 intake": set(),
    "stem 5.5 mm": {"small"},
    "stem 5.48 mm": {"small"},
    "stem 5.6 mm": set(),
    "stem diameter 0.341 in": {"large"},
    "valve stem 0.341\"": {"large"},
    "stem 5.5 mm exhaust": {"small"},
    "stem 5.5 mm intake": set(),
    "guide bronze": {"large"},
    "bronze guides": {"large"},
    "guides of manganese bronze": {"large"},
    "guide cast iron": {"small"},
    "guide steel": set(),
    "guide clearance 0.05 mm": {"small"},
    "guide clearance 0.06 mm": set(),
    "chamber volume 40.5 cm3": {"small"},
    "guide bronze stem 0.341 in": {"large"},
    "guide bronze seat 39": set(),
}  # fmt: skip


def test_exactly_the_heads_that_have_it_are_found(
    db: Session, heads: dict[str, Visit], subtests: pytest.Subtests
):
    names = {visit.tag: name for name, visit in heads.items()}
    for text, wanted in FOUND.items():
        with subtests.test(text):
            assert {names[row.tag] for row in past_jobs.past_jobs(db, text)} == wanted


def test_it_is_told_how_a_measurement_was_understood(db: Session, heads: dict[str, Visit]):
    by_name = {
        text: past_jobs.look_up(db, text).understood for text in ("stem 5.5 mm", "guide bronze")
    }
    assert by_name == {
        "stem 5.5 mm": "Stem diameter 5.5 mm, any engine",
        "guide bronze": "Guides of bronze, any engine",
    }


def test_the_search_box_knows_measurements_too(db: Session, heads: dict[str, Visit]):
    hits = search.everything(db, "seat 39")
    assert [(hit.kind, hit.key) for hit in hits] == [("job", heads["small"].job.number)]


def test_struck_measurements_and_skipped_steps_are_not_found(
    db: Session, by: Actor, heads: dict[str, Visit]
):
    large = heads["large"]
    for row in list(large.measurements):
        measurements.strike(db, by, row, "wrong head")
    operations.skip(db, by, large.operations[0], "guides are good")
    for text in ("valve 1.90 in", "stem 0.341 in", "guide bronze"):
        assert past_jobs.past_jobs(db, text) == []
