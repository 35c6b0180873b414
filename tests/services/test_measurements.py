"""Measurements against their limits."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError, ValidationError
from shopflow.models import Measurement, Visit
from shopflow.services.actor import Actor
from shopflow.services.bench import sizes
from shopflow.services.measuring import limit_checks, measurements
from shopflow.services.shop import measurement_catalogue
from shopflow.units import CONDITION
from tests import factories
from tests.factories import BY
from tests.services.expecting import assert_logged, faults_at, last_entry, refused


def record(db: Session, by: Actor, visit: Visit, code: str, **values: object) -> Measurement:
    kind = measurements.kind_by_code(db, code)
    return measurements.record(db, by, visit, kind.id, values)


def test_a_figure_is_kept_as_typed_with_its_place_and_operation(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    step = factories.create_operation(db, visit, "guide")
    kind = measurements.kind_by_code(db, "guide clearance")
    measurement = measurements.record(
        db, machinist, visit, kind.id,
        {"value": "0.00210 in", "cylinder": "2", "side": "intake", "place": "top of the guide",
         "when": "before"},
        step,
    )  # fmt: skip
    db.flush()
    db.expire(measurement)
    assert measurements.get(db, measurement.id).value.text == "0.00210 in"
    assert measurement.value.si == pytest.approx(0.0021 * 0.0254, rel=1e-15)
    assert measurement.where == "cylinder 2 intake, top of the guide"
    assert (measurement.at, measurement.person, measurement.when) == (
        machinist.at,
        machinist.person,
        "before",
    )
    assert step.measurements == [measurement]
    assert visit.measurements == [measurement]
    assert_logged(db, measurement, machinist, "measured")
    assert last_entry(db, measurement).job_id == visit.job_id
    assert "Guide clearance 0.00210 in cylinder 2 intake" in last_entry(db, measurement).note


@pytest.mark.parametrize(
    ("value", "lower", "upper", "verdict"),
    [
        ("0.055 mm", "0.025 mm", "0.055 mm", "within limits"),
        ("0.025 mm", "0.025 mm", "0.055 mm", "within limits"),
        ("0.0551 mm", "0.025 mm", "0.055 mm", "outside limits"),
        ("0.0249 mm", "0.025 mm", "0.055 mm", "outside limits"),
        ("0.01 in", "0.254 mm", "", "within limits"),
        ("0.01 in", "", "0.254 mm", "within limits"),
        ("0.2539 mm", "0.01 in", "", "outside limits"),
        ("0.2541 mm", "", "0.01 in", "outside limits"),
        ("0.04 mm", "", "", "no limit given"),
        ("1 mm", "1.0 mm", "1.00 mm", "within limits"),
        # The same length in two units is the same, whatever binary fractions make of it.
        ("0.0021 in", "", "0.05334 mm", "within limits"),
        ("0.0033 in", "0.08382 mm", "", "within limits"),
        ("0.05334 mm", "0.0021 in", "0.0021 in", "within limits"),
        ("0.0023 in", "0.05842 mm", "0.05842 mm", "within limits"),
    ],
)
def test_the_limits_themselves_are_within(
    sqlite_db: Session, by: Actor, value: str, lower: str, upper: str, verdict: str
):
    visit = factories.create_visit(sqlite_db)
    row = record(sqlite_db, by, visit, "guide clearance", value=value, lower=lower, upper=upper)
    assert row.verdict == verdict


@pytest.mark.parametrize(
    ("values", "keys"),
    [
        ({}, ["value"]),
        ({"value": ""}, ["value"]),
        ({"value": "0.04"}, ["value"]),
        ({"value": "4 cm3"}, ["value"]),
        ({"value": "1 mm", "lower": "wide", "upper": "2 degC"}, ["lower", "upper"]),
        ({"value": "1 mm", "lower": "0.3 mm", "upper": "0.2 mm"}, ["lower"]),
        ({"value": "1 mm", "cylinder": "0"}, ["cylinder"]),
        ({"value": "1 mm", "side": "left"}, ["side"]),
        ({"value": "1 mm", "when": "during"}, ["when"]),
        ({"value": "1 mm", "place": "x" * 201}, ["place"]),
        ({"value": "1." + "0" * 60 + " mm"}, ["value"]),
    ],
)
def test_what_cannot_be_is_refused_at_its_field(
    sqlite_db: Session, by: Actor, values: dict[str, str], keys: list[str]
):
    with faults_at(*keys):
        record(sqlite_db, by, factories.create_visit(sqlite_db), "guide clearance", **values)


def test_an_unknown_kind_or_key_is_refused(db: Session, by: Actor):
    visit = factories.create_visit(db)
    with faults_at("kind_id"):
        measurements.record(db, by, visit, 4711, {"value": "1 mm"})
    with faults_at("kind"):
        measurements.kind_by_code(db, "colour")
    with pytest.raises(NotFoundError):
        measurements.get(db, 4711)
    with pytest.raises(NotFoundError):
        measurements.get_kind(db, 4711)


def test_a_correction_keeps_what_it_was_in_the_log(db: Session, by: Actor, machinist: Actor):
    row = record(
        db, by, factories.create_visit(db), "chamber volume", value="48.2 cm3", upper="49 cm3"
    )
    measurements.correct(db, machinist, row, {"value": "49.20 cm3"})
    assert row.verdict == "outside limits"
    assert_logged(db, row, machinist, "corrected", value=["48.2 cm3", "49.20 cm3"])
    with faults_at("lower"):
        measurements.correct(db, machinist, row, {"lower": "50 cm3"})
    measurements.correct(db, machinist, row, {"upper": ""})
    assert row.verdict == "no limit given"


@pytest.mark.parametrize(
    ("code", "typed", "bounds"),
    [
        ("chamber volume", "5100 cm3", "enter 1 to 1500 cm3"),
        ("guide clearance", "60 mm", "enter 0 to 1 mm"),
        ("guide clearance", "2 in", "enter 0 to 0.03937 in"),
        ("seat angle", "5 deg", "enter 10 to 80 deg"),
        ("valve head diameter", "1.9 mm", "enter 8 to 150 mm"),
    ],
)
def test_a_value_that_no_head_has_is_refused_at_its_field(db: Session, code, typed, bounds):
    visit = factories.create_visit(db)
    kind = measurements.kind_by_code(db, code)
    for name in ("value", "lower", "upper"):
        values = {"value": measurement_catalogue.BOUNDS[code][1], name: typed}
        with pytest.raises(ValidationError) as caught:
            measurements.record(db, factories.BY, visit, kind.id, values)
        (fault,) = caught.value.faults
        assert fault.key == name
        assert f"'{typed}' is not a plausible {code}: {bounds}" in fault.message


def test_every_kind_has_its_bounds_and_they_are_generous():
    numbers = (kind for kind in measurement_catalogue.KINDS if kind.dimension != CONDITION)
    assert set(measurement_catalogue.BOUNDS) == {kind.code for kind in numbers}


def test_a_cylinder_the_engine_does_not_have_is_refused(db: Session):
    visit = factories.create_visit(db)
    count = visit.head.engine_type.cylinders
    values = {"value": "0.04 mm", "cylinder": "99"}
    words = f"'99' is not a cylinder of this engine: enter a number from 1 to {count}"
    with pytest.raises(ValidationError, match=words):
        record(db, factories.BY, visit, "guide clearance", **values)


def test_a_measurement_struck_out_counts_nowhere_until_it_is_restored(db: Session):
    step = factories.create_operation(db)
    visit = step.job_head
    kind = measurements.kind_by_code(db, "throat diameter")
    first, second = (
        measurements.record(db, BY, visit, kind.id, {"value": value, "side": "intake"}, step)
        for value in ("38 mm", "39 mm")
    )
    with faults_at("reason"):
        measurements.strike(db, BY, second, " ")
    measurements.strike(db, BY, second, "measured on the exhaust")
    assert_logged(db, second, BY, "struck out", struck_because=["", "measured on the exhaust"])
    assert (visit.measurements, step.measurements) == ([first], [first])
    assert visit.struck_measurements == [second]
    assert sizes.measured(visit, "intake", "")["throat_diameter"] is first
    assert limit_checks.latest(step.measurements) == [first]
    with refused("restore it before"):
        measurements.correct(db, BY, second, {"value": "40 mm"})
    with refused("struck out already"):
        measurements.strike(db, BY, second, "again")
    measurements.restore(db, BY, second)
    assert visit.measurements == [first, second]
    with refused("counts already"):
        measurements.restore(db, BY, second)
