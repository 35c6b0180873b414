"""Kinds of measurement: the shop's own and the built-in ones; those that are calculated."""

from __future__ import annotations

from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import Measurement, Verdict, Visit
from shopflow.services.measuring import kinds, limits, measurements, usual_values
from shopflow.services.shop import built_in_kinds, measurement_catalogue
from tests import factories
from tests.factories import BY
from tests.services.expecting import assert_logged, faults_at, refused

TIP = {
    "name": "Tip hardness depth",
    "dimension": "length",
    "place_kind": "valve",
    "us_unit": "in",
    "si_unit": "mm",
    "us_decimals": "4",
    "si_decimals": "3",
    "least": "0.1 mm",
    "greatest": "3 mm",
}


def record(db: Session, visit: Visit, code: str, value: str, **where: Any) -> Measurement:
    kind = measurements.kind_by_code(db, code)
    return measurements.record(db, BY, visit, kind.id, {"value": value, **where})


def the_calculated(visit: Visit, code: str) -> list[Measurement]:
    return [row for row in visit.measurements if row.kind.code == code and row.calculated]


@pytest.mark.parametrize(
    "words",
    ["guide bore", "guide clearance", "insert bore", "insert outside diameter", "interference",
     "stem diameter, top", "stem diameter, middle", "stem diameter, bottom", "stem wear", "tip",
     "valve length", "margin", "face run-out", "seat run-out", "contact width",
     "contact below the margin", "recession", "stem height", "installed height", "free length",
     "load on the seat", "spring rate", "squareness", "shim", "retainer to guide",
     "chamber volume", "deck flatness", "deck cut", "head thickness", "bolt hole", "cam bore",
     "injector protrusion", "prechamber", "short-side radius", "guide to port wall",
     "port width", "port height", "port perimeter", "port volume"],
)  # fmt: skip
def test_the_catalogue_has_the_trades_usual_measurements(words: str):
    """The list of the shop's brief."""
    assert any(words in kind.name.lower() for kind in measurement_catalogue.KINDS)


def test_a_shop_adds_its_own_kind_and_measures_it(db: Session):
    visit = factories.create_visit(db)
    row = kinds.add(db, BY, TIP)
    assert (row.code, kinds.is_built_in(row)) == ("tip hardness depth", False)
    assert built_in_kinds.measurement_kinds(db)[-1] is row
    assert_logged(db, row, BY, "added")
    record(db, visit, row.code, "0.8 mm", cylinder=1, side="intake")
    with faults_at("value"):
        record(db, visit, row.code, "8 mm")
    assert kinds.add(db, BY, {**TIP, "name": "Tip-hardness depth!"}).code == "tip hardness depth 2"


@pytest.mark.parametrize(
    ("changed", "key"),
    [
        ({"name": ""}, "name"),
        ({"name": "guide BORE"}, "name"),
        ({"dimension": "colour"}, "dimension"),
        ({"place_kind": "piston"}, "place_kind"),
        ({"us_unit": "psi"}, "us_unit"),
        ({"si_decimals": "7"}, "si_decimals"),
        ({"si_decimals": "-1"}, "si_decimals"),
        ({"least": "4 mm"}, "least"),
        ({"greatest": "3 psi"}, "greatest"),
    ],
)
def test_a_kind_that_cannot_be_is_refused_at_its_field(
    db: Session, changed: dict[str, str], key: str
):
    factories.create_shop(db)
    with faults_at(key):
        kinds.add(db, BY, {**TIP, **changed})


def test_a_kind_is_renamed_but_keeps_what_it_measures_once_used(db: Session):
    visit = factories.create_visit(db)
    row = kinds.add(db, BY, TIP)
    kinds.change(db, BY, row, {"dimension": "force", "us_unit": "lbf", "si_unit": "N",
                               "least": "", "greatest": ""})  # fmt: skip
    record(db, visit, row.code, "20 N")
    kinds.change(db, BY, row, {"name": "Pull on the tip"})
    assert visit.measurements[0].title == "Pull on the tip"
    with faults_at("place_kind"):
        kinds.change(db, BY, row, {"place_kind": "head"})
    built_in = measurements.kind_by_code(db, "guide bore")
    kinds.change(db, BY, built_in, {"name": "Bore of the guide", "us_decimals": "5"})
    assert built_in.us_decimals == 5
    with faults_at("dimension", "place_kind"):
        kinds.change(db, BY, built_in, {**TIP, "name": "Bore", "dimension": "area",
                     "us_unit": "in2", "si_unit": "mm2", "least": "", "greatest": ""})  # fmt: skip


def test_kinds_are_ordered_archived_and_restored(db: Session):
    factories.create_shop(db)
    first, second, *_, last = built_in_kinds.measurement_kinds(db)
    kinds.move(db, BY, second, earlier=True)
    assert built_in_kinds.measurement_kinds(db)[:2] == [second, first]
    kinds.move(db, BY, second, earlier=True)
    kinds.move(db, BY, last, earlier=False)
    answer = built_in_kinds.measurement_kinds(db)
    assert (answer[0], answer[-1]) == (second, last)
    kinds.archive(db, BY, first)
    assert first not in built_in_kinds.measurement_kinds(db)
    assert first in kinds.list_all(db)
    kinds.restore(db, BY, first)
    assert first in built_in_kinds.measurement_kinds(db)
    with pytest.raises(NotFoundError):
        kinds.get(db, 4711)


def test_a_kind_without_a_lower_bound_takes_nothing_below_zero(db: Session):
    visit = factories.create_visit(db)
    row = kinds.add(db, BY, {**TIP, "least": ""})
    with faults_at("value"):
        record(db, visit, row.code, "-0.1 mm")
    deep = record(db, visit, "valve depth", "-0.2 mm")
    assert deep.value.si == pytest.approx(-0.0002)


def test_interference_is_calculated_from_insert_and_bore_and_follows_both(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, "seat interference")
    limit = {"lower": "0.09 mm", "upper": "0.13 mm"}
    limits.set_(db, BY, visit.head.engine_type, kind, "exhaust", limit)
    at = {"cylinder": 2, "side": "exhaust", "valve": "rear"}
    record(db, visit, "insert bore", "34.00 mm", **at)
    assert not the_calculated(visit, kind.code)
    insert = record(db, visit, "insert diameter", "34.13 mm", **at)
    (row,) = the_calculated(visit, kind.code)
    assert (row.value.text, row.verdict, row.where) == (
        "0.13 mm", Verdict.WITHIN, "cylinder 2, rear exhaust seat",
    )  # fmt: skip
    measurements.correct(db, BY, insert, {"value": "34.131 mm"})
    assert (row.value.text, row.verdict) == ("0.131 mm", Verdict.OUTSIDE)
    record(db, visit, "insert diameter", "34.20 mm", **{**at, "cylinder": 3})
    assert the_calculated(visit, kind.code) == [row]
    measurements.correct(db, BY, insert, {"valve": "front", "value": "34.131 mm"})
    assert not the_calculated(visit, kind.code)
    measurements.correct(db, BY, insert, {"valve": "rear", "value": "34.10 mm"})
    assert [item.value.text for item in the_calculated(visit, kind.code)] == ["0.10 mm"]
    measurements.strike(db, BY, insert, "wrong insert")
    assert not the_calculated(visit, kind.code)
    measurements.restore(db, BY, insert)
    assert [one.value.text for one in the_calculated(visit, kind.code)] == ["0.10 mm"]


def test_what_is_calculated_is_never_typed(db: Session):
    visit = factories.create_visit(db)
    for code in ("seat interference", "stem wear", "recession"):
        with faults_at("value"):
            record(db, visit, code, "0.1 mm")
    record(db, visit, "insert bore", "1.3000 in")
    record(db, visit, "insert diameter", "1.3045 in")
    (row,) = the_calculated(visit, "seat interference")
    assert row.value.text == "0.0045 in"
    for verb in (
        lambda: measurements.correct(db, BY, row, {"value": "0.005 in"}),
        lambda: measurements.strike(db, BY, row, "because"),
    ):
        with refused("calculated from the insert's outside diameter and its bore"):
            verb()


def test_sizes_in_two_systems_still_give_one_result(db: Session):
    visit = factories.create_visit(db)
    record(db, visit, "insert bore", "25.4 mm")
    record(db, visit, "insert diameter", "1.0045 in")
    (row,) = the_calculated(visit, "seat interference")
    assert row.value.text == "0.0045 in"


def test_stem_wear_is_the_largest_less_the_smallest_of_two_or_three_heights(db: Session):
    visit = factories.create_visit(db)
    record(db, visit, "stem diameter top", "7.965 mm")
    record(db, visit, "stem diameter bottom", "7.940 mm")
    (row,) = the_calculated(visit, "stem wear")
    assert row.value.text == "0.025 mm"
    record(db, visit, "stem diameter middle", "7.93 mm")
    assert row.value.text == "0.035 mm"


def test_recession_is_the_stem_height_over_the_usual_one(db: Session):
    visit = factories.create_visit(db)
    at = {"cylinder": 1, "side": "intake"}
    record(db, visit, "stem height", "48.10 mm", **at)
    assert not the_calculated(visit, "recession")
    kind = measurements.kind_by_code(db, "stem height")
    values = {"value": "47.60 mm", "side": "intake"}
    usual_values.set_(db, BY, visit.head.engine_type, kind, values)
    record(db, visit, "stem height", "48.10 mm", **at)
    assert [row.value.text for row in the_calculated(visit, "recession")] == ["0.50 mm"]
    record(db, visit, "stem height", "47.50 mm", **at)
    assert [row.value.text for row in the_calculated(visit, "recession")] == ["-0.10 mm"]
