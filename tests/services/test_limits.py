"""Limits by engine type: set, held against, taken out."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import EngineType
from shopflow.services.actor import Actor
from shopflow.services.measuring import limits, measurements
from tests import factories
from tests.services.expecting import assert_logged, faults_at, last_entry


def set_limit(db: Session, by: Actor, engine_type: EngineType, side: str = "", **values: Any):
    """A limit of the guide clearance."""
    kind = measurements.kind_by_code(db, "guide clearance")
    return limits.set_(db, by, engine_type, kind, side, values)


def test_a_figure_without_limits_is_held_against_its_engine_types(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    engine_type = visit.head.engine_type
    kind = measurements.kind_by_code(db, "guide clearance")
    limit = set_limit(
        db, machinist, engine_type, lower="0.025 mm", upper="0.055 mm", source="manual"
    )
    own = set_limit(db, machinist, engine_type, "exhaust", upper="0.0030 in")
    assert limits.of_engine_type(db, engine_type) == [limit, own]
    assert_logged(db, limit, machinist, "set")

    def limits_and_verdict(**values: Any) -> tuple[str, str]:
        row = measurements.record(db, machinist, visit, kind.id, {"value": "0.07 mm", **values})
        return row.limits, row.verdict.value

    assert limits_and_verdict() == ("0.025 to 0.055 mm", "outside limits")
    assert limits_and_verdict(side="intake") == ("0.025 to 0.055 mm", "outside limits")
    # 0.0030 in is 0.0762 mm.
    assert limits_and_verdict(side="exhaust") == ("to 0.0030 in", "within limits")
    assert limits_and_verdict(upper="0.08 mm") == ("to 0.08 mm", "within limits")


def test_another_engine_types_limits_are_not_asked(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    set_limit(db, machinist, factories.create_engine_type(db), upper="0.05 mm")
    kind = measurements.kind_by_code(db, "guide clearance")
    row = measurements.record(db, machinist, visit, kind.id, {"value": "0.07 mm"})
    assert row.limits == ""


def test_a_limit_set_again_takes_the_place_of_what_stood_and_old_figures_keep_theirs(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    kind = measurements.kind_by_code(db, "guide clearance")
    limit = set_limit(db, machinist, visit.head.engine_type, upper="0.05 mm")
    row = measurements.record(db, machinist, visit, kind.id, {"value": "0.07 mm"})
    assert set_limit(db, machinist, visit.head.engine_type, upper="0.08 mm") is limit
    assert last_entry(db, limit).changes["upper"] == ["0.05 mm", "0.08 mm"]
    assert row.limits == "to 0.05 mm"
    # A correction that leaves it without limits does not free it of its engine type's.
    measurements.correct(db, machinist, row, {"upper": ""})
    assert row.limits == "to 0.08 mm"
    limits.take_out(db, machinist, limits.get(db, limit.id))
    assert limits.of_engine_type(db, visit.head.engine_type) == []
    with pytest.raises(NotFoundError):
        limits.get(db, 4711)


@pytest.mark.parametrize(
    ("side", "values", "keys"),
    [
        ("", {}, ["lower"]),
        ("", {"lower": "2 mm", "upper": "1 mm"}, ["lower"]),
        ("", {"lower": "wide", "upper": "1 cm3"}, ["lower", "upper"]),
        ("left", {"upper": "1 mm"}, ["side"]),
        ("", {"upper": "1 mm", "source": "x" * 201}, ["source"]),
    ],
)
def test_what_is_no_limit_is_refused_at_its_field(
    db: Session, machinist: Actor, side: str, values: dict[str, str], keys: list[str]
):
    factories.create_shop(db)
    with faults_at(*keys):
        set_limit(db, machinist, factories.create_engine_type(db), side, **values)


def test_limits_are_copied_from_another_engine_type(db: Session, by: Actor):
    factories.create_shop(db)
    source, target = (factories.create_engine_type(db) for _ in range(2))
    set_limit(db, by, source, "intake", lower="0.025 mm", upper="0.055 mm", source="manual")
    set_limit(db, by, source, "exhaust", upper="0.0030 in")
    limit = set_limit(db, by, target, "exhaust", upper="0.09 mm")
    assert limits.with_limits(db, target) == [(source, 2)]
    (row,) = limits.copy(db, by, target, source)
    assert (row.side, str(row.lower), str(row.upper)) == ("intake", "0.025 mm", "0.055 mm")
    assert row.source == f"manual, copied from {source.title}"
    assert str(limit.upper) == "0.09 mm"
    # The one copied from is not touched.
    assert [row.source for row in limits.of_engine_type(db, source)] == ["", "manual"]


def test_copied_limits_replace_those_set_where_asked(db: Session, by: Actor):
    factories.create_shop(db)
    source, target = (factories.create_engine_type(db) for _ in range(2))
    set_limit(db, by, source, "exhaust", upper="0.0030 in")
    limit = set_limit(db, by, target, "exhaust", upper="0.09 mm")
    assert limits.copy(db, by, target, source) == []
    assert limits.copy(db, by, target, source, replace=True) == [limit]
    assert str(limit.upper) == "0.0030 in"


def test_limits_are_copied_only_from_another_type_that_has_some(db: Session, by: Actor):
    factories.create_shop(db)
    bare, target = (factories.create_engine_type(db) for _ in range(2))
    with faults_at("source_id"):
        limits.copy(db, by, target, bare)
    set_limit(db, by, target, upper="0.09 mm")
    with faults_at("source_id"):
        limits.copy(db, by, target, target)
