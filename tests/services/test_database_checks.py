"""Checks of the database itself against raw inserts that bypass the services."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import insert, select
from sqlalchemy.exc import IntegrityError
from sqlalchemy.orm import Session

from shopflow.models import Base
from shopflow.services.actor import Actor
from shopflow.services.bench import calibrations
from shopflow.services.hand_off import notes
from shopflow.services.measuring import measurements
from tests import factories
from tests.cli.sessions import PERCENT

NOW = factories.NOW


@pytest.fixture
def filled(db: Session, by: Actor) -> Session:
    """A database with a row in most tables."""
    visit = factories.create_visit(db)
    machinist = factories.someone(db)
    step = factories.create_operation(db, visit)
    factories.create_session(db, visit, PERCENT, machinist, step)
    kind = measurements.kind_by_code(db, "guide clearance")
    measurements.record(db, by, visit, kind.id, {"value": "0.04 mm"}, step)
    notes.write(db, by, visit, {}, {"intake": {"base_seat_load": "90 lbf"}}, [])
    bench = factories.create_bench(db)
    calibrations.calibrate(
        db, by, bench.ranges[0],
        {"identifier": "N-7", "expanded_uncertainty": "1 %", "made_on": "2025-10-13"},
    )  # fmt: skip
    db.flush()
    return db


def insert_like(db: Session, name: str, changes: dict[str, Any]) -> None:
    """Insert a copy of a row that is there, with these columns changed, and take it back."""
    table = Base.metadata.tables[name]
    row = dict(db.execute(select(table)).mappings().first() or {})
    with db.begin_nested() as savepoint:
        db.execute(insert(table).values({**row, "id": 4711, **changes}))
        savepoint.rollback()


UNLIKE: dict[str, dict[str, Any]] = {
    "job": {"number": "2026-0099"},
    "person": {"login": "other"},
    "session_lift": {"position": 99},
    "reading": {"run": 99},
    "calibration": {"identifier": "other"},
    "bench_range": {"name": "other"},
    "valve_set_up": {"side": "exhaust"},
    "engine_type": {"family": "other"},
}
"""Fields that must differ for a copy of a row to be valid."""

CHECKS: list[tuple[str, str, dict[str, Any]]] = [
    ("session_lift", "lift_positive", {"lift_si": -0.001}),
    ("session_lift", "lift_positive", {"lift_si": 0.0}),
    ("reading", "flow_not_negative", {"flow_si": -0.001}),
    ("reading", "exclusion_has_reason", {"excluded": True, "excluded_because": ""}),
    ("reading", "exclusion_has_reason", {"excluded": False, "excluded_because": "odd"}),
    ("operation", "sign_off_by_someone", {"state": "done", "signed_off_at": NOW}),
    ("operation", "sign_off_by_someone", {"state": "done", "signed_off_at": None}),
    ("operation", "skip_has_reason", {"state": "skipped", "skip_reason": ""}),
    ("operation", "price_not_negative", {"price": Decimal(-1)}),
    ("operation", "operationstate", {"state": "polished"}),
    ("job", "cancel_has_reason", {"state": "cancelled", "cancel_reason": ""}),
    ("job", "approval_by_someone", {"approved_at": NOW, "approved_by": ""}),
    ("job", "boost_not_negative", {"boost_typed": "-1 Pa", "boost_si": -1.0}),
    ("job", "intake_lift_positive", {"intake_lift_typed": "0 mm", "intake_lift_si": 0.0}),
    ("job", "jobstate", {"state": "lost"}),
    ("bench_session", "side", {"side": "both"}),
    ("bench_session", "barometer_positive", {"barometer_si": 0.0}),
    ("bench_session", "humidity_in_range", {"humidity_si": 1.5}),
    ("bench_session", "test_pressure_positive", {"test_pressure_si": 0.0}),
    ("bench_session", "leakage_not_negative", {"leakage_si": -1.0}),
    ("bench_session", "valves_counted", {"valve_count": 0}),
    ("bench_session", "seat_whole_or_absent", {"seat_angle_typed": "45 deg", "seat_angle_si": 0.8}),
    ("measurement", "limits_in_order", {"lower_si": 2.0, "upper_si": 1.0}),
    ("measurement", "side", {"side": "left"}),
    ("measurement", "cylinder_counted", {"cylinder": 0}),
    ("hand_off_note", "signed_by_someone", {"signed_at": NOW}),
    ("valve_set_up", "seat_load_not_negative", {"base_seat_load_si": -1.0}),
    ("engine_type", "displacement_positive", {"displacement_si": 0.0}),
    ("engine_type", "valves_counted", {"valves_per_cylinder": 1}),
    ("bench_range", "full_scale_positive", {"full_scale_si": 0.0}),
    ("calibration", "uncertainty_not_negative", {"expanded_uncertainty_si": -0.01}),
    ("customer", "name_given", {"name": ""}),
    ("customer", "language", {"language": "en_AU"}),
    ("person", "login_given", {"login": ""}),
    ("person", "role", {"role": "boss"}),
    ("shop", "only_one", {"id": 2}),
    ("shop", "language", {"id": 1, "language": "en_AU"}),
    ("shop", "unit_system", {"id": 1, "unit_system": "xx"}),
]  # fmt: skip


def test_what_cannot_be_is_refused_by_the_check_meant_for_it(
    filled: Session, subtests: pytest.Subtests
):
    for table, check, changes in CHECKS:
        with (
            subtests.test(f"{table}: {check} {changes}"),
            pytest.raises(IntegrityError, match=f"ck_{table}_{check}"),
        ):
            insert_like(filled, table, {**UNLIKE.get(table, {}), **changes})


REFERENCES = [
    ("job", "customer_id"),
    ("head", "engine_type_id"),
    ("operation", "job_head_id"),
    ("operation", "signed_off_by_id"),
    ("bench_session", "job_head_id"),
    ("bench_session", "calibration_id"),
    ("session_lift", "session_id"),
    ("reading", "session_lift_id"),
    ("measurement", "kind_id"),
]


def test_a_reference_to_what_is_not_there_is_refused(filled: Session, subtests: pytest.Subtests):
    for table, column in REFERENCES:
        with (
            subtests.test(f"{table}.{column}"),
            pytest.raises(IntegrityError, match=r"(?i)foreign key"),
        ):
            insert_like(filled, table, {**UNLIKE.get(table, {}), column: 4711})


TWICE = [
    ("job", "number", {}),
    ("job_head", "tag", {"position": 9}),
    ("person", "login", {}),
    ("shop", "id", {"id": 1}),
    ("engine_type", "family", {}),
    ("bench_range", "name", {}),
    ("hand_off_note", "job_head_id", {}),
    ("session_lift", "position", {}),
]


def test_what_is_given_once_is_not_given_twice(filled: Session, subtests: pytest.Subtests):
    for table, column, changes in TWICE:
        with (
            subtests.test(f"{table}.{column}"),
            pytest.raises(IntegrityError, match=f"(?is)unique.*{column}"),
        ):
            insert_like(filled, table, changes)


def test_a_sound_copy_passes_so_that_the_refusals_mean_something(
    filled: Session, subtests: pytest.Subtests
):
    for table in dict.fromkeys(table for table, _, _ in CHECKS):
        # The shop and a head's note are one of a kind.
        if table not in ("shop", "hand_off_note"):
            with subtests.test(table):
                insert_like(filled, table, UNLIKE.get(table, {}))
