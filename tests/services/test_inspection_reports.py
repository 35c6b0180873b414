"""Inspection reports: a head as it came in, whatever was done to it since."""

from __future__ import annotations

from datetime import UTC, datetime, timedelta
from decimal import Decimal
from typing import Any

import pymupdf
import pytest
from sqlalchemy.orm import Session

from shopflow import issuing, papers
from shopflow.models import Measurement, Operation, Visit
from shopflow.services.actor import Actor
from shopflow.services.counter import customer_view, inspection_reports
from shopflow.services.measuring import integrity_tests, measurements
from shopflow.services.routing import operations
from tests import factories
from tests.factories import BY
from tests.services.expecting import refused

CLEARANCE = "guide clearance"
LIMITS = {"lower": "0.0012 in", "upper": "0.0024 in"}


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of sixteen valves with an inspection and guides to do, work not begun."""
    visit = factories.create_planned_visit(db)
    for kind in ("inspection", "guide"):
        factories.create_operation(db, visit, kind, price="120")
    return visit


def step(visit: Visit, code: str) -> Operation:
    return next(row for row in visit.operations if row.kind.code == code)


def measure(
    db: Session, visit: Visit, code: str, value: str, by: Actor = BY, **where: Any
) -> Measurement:
    kind = measurements.kind_by_code(db, CLEARANCE)
    values = {"cylinder": 1, "side": "intake", "valve": "1", "value": value, **LIMITS, **where}
    return measurements.record(db, by, visit, kind.id, values, step(visit, code))


def text(content: bytes) -> str:
    with pymupdf.open(stream=content) as pdf:
        return " ".join(" ".join(page.get_text() for page in pdf).split())


def test_values_stand_in_a_table_with_those_outside_their_limits_told(db: Session, visit: Visit):
    measure(db, visit, "inspection", "0.0031 in")
    measure(db, visit, "inspection", "0.0020 in", cylinder=2)
    report = inspection_reports.inspection_report(db, visit.job)
    (head,) = report.heads
    (table,) = head.tables
    assert table.columns == ("1", "2", "3", "4")
    assert [row.label for row in table.rows] == [
        "Front intake", "Rear intake", "Front exhaust", "Rear exhaust",
    ]  # fmt: skip
    assert (table.measured, table.outside, head.outside) == (2, 1, 1)
    words = text(papers.inspection_report(report))
    assert "1 value is outside its limits: Guide clearance." in words
    assert "▲ 0.0031" in words
    assert "0.0012 to 0.0024" in words
    assert "Guide clearance outside its limits at 1 place" in words
    assert "Do not run an engine" in words


def test_what_was_measured_once_metal_was_cut_is_no_finding(
    db: Session, visit: Visit, machinist: Actor
):
    measure(db, visit, "inspection", "0.0031 in", when="before")
    measure(db, visit, "inspection", "0.0022 in", cylinder=2)
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    later = Actor(machinist.person, datetime.now(UTC) + timedelta(days=1))
    operations.start(db, later, step(visit, "guide"))
    measure(db, visit, "guide", "0.0018 in", by=later)
    (head,) = inspection_reports.inspection_report(db, visit.job).heads
    cells = [cell.value if cell else "" for cell in head.tables[0].rows[0].cells]
    assert cells == ["0.0031", "0.0022", "", ""]


def test_tests_before_the_work_are_in_it_the_failed_ones_counted(
    db: Session, visit: Visit, machinist: Actor
):
    test = factories.create_operation(db, visit, "pressure-test")
    values = {"medium": "water", "pressure": "40 psi", "duration": "10 min", "result": "failed"}
    integrity_tests.record(db, machinist, test, values)
    (head,) = inspection_reports.inspection_report(db, visit.job).heads
    assert (head.failed, [item.result for item in head.tested]) == (1, ["failed"])
    assert "1 leak or crack test failed." in text(
        papers.inspection_report(inspection_reports.inspection_report(db, visit.job))
    )


def test_prices_are_those_of_the_quote_and_only_where_wanted(db: Session, visit: Visit):
    measure(db, visit, "inspection", "0.0031 in")
    report = inspection_reports.inspection_report(db, visit.job)
    assert {item.price for item in report.heads[0].proposed} == {None}
    assert not customer_view.of(db, visit.job, shows_prices=True).has_inspection
    issuing.give_quote(db, BY, visit.job, {})
    report = inspection_reports.inspection_report(db, visit.job)
    assert [item.price for item in report.heads[0].proposed] == [Decimal(120), Decimal(120)]
    assert f"as in quote {report.quote}" in text(papers.inspection_report(report))
    bare = inspection_reports.inspection_report(db, visit.job, prices=False)
    assert "$" not in text(papers.inspection_report(bare))
    assert customer_view.of(db, visit.job, shows_prices=False).has_inspection


def test_without_anything_measured_there_is_no_report(db: Session, visit: Visit):
    with refused("record the inspection first"):
        inspection_reports.inspection_report(db, visit.job)
