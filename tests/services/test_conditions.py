"""Conditions of threads and bolt holes: words in place of numbers, damage is outside limits."""

from __future__ import annotations

import pytest
from sqlalchemy.orm import Session

from shopflow.models import Measurement, Verdict, When
from shopflow.services.counter import inspection_reports
from shopflow.services.measuring import (
    casting_trends,
    kinds,
    limit_checks,
    limits,
    measurements,
    sheets,
    whole_sheet,
)
from shopflow.services.routing import work_orders
from shopflow.services.search import past_jobs
from shopflow.units import US_CUSTOMARY, UnitError, parse
from tests import factories
from tests.factories import BY
from tests.optional import present
from tests.services.expecting import faults_at

PLUGS = "plug thread"


def record(db: Session, visit, code: str, word: str, **where) -> Measurement:
    kind = measurements.kind_by_code(db, code)
    return measurements.record(db, BY, visit, kind.id, {"value": word, **where})


@pytest.mark.parametrize(("word", "verdict"), [
    ("good", Verdict.WITHIN), ("Repaired", Verdict.WITHIN), (" damaged ", Verdict.OUTSIDE),
])  # fmt: skip
def test_a_condition_is_judged_without_any_limit_set(db: Session, word: str, verdict: Verdict):
    row = record(db, factories.create_planned_visit(db), PLUGS, word, cylinder="2")
    assert row.value.text == word.strip().lower()
    assert (row.verdict, row.limits, row.where) == (verdict, "good or repaired", "cylinder 2")


def test_an_engine_type_may_take_nothing_but_good(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, PLUGS)
    limits.set_(db, BY, visit.head.engine_type, kind, "", {"upper": "good"})
    row = record(db, visit, PLUGS, "repaired", cylinder="1")
    assert (row.verdict, row.limits) == (Verdict.OUTSIDE, "good")


def test_anything_but_a_condition_is_refused_at_its_field(db: Session):
    visit = factories.create_planned_visit(db)
    with faults_at("value"):
        record(db, visit, PLUGS, "0.5 mm", cylinder="1")
    with pytest.raises(UnitError, match="enter good, repaired, damaged"):
        parse("0.5 mm", "condition")
    with pytest.raises(UnitError):
        parse("good", "length")


def test_the_sheet_offers_the_words_and_judges_them(db: Session):
    visit = factories.create_planned_visit(db)
    chosen = sheets.usual_columns(db, visit, None, [PLUGS, "thread condition"])
    sheet = sheets.sheet(db, visit, None, chosen, sheets.Units(US_CUSTOMARY))
    cell = next(cell for cell in sheet.cells.values() if cell.when is When.AFTER)
    assert (list(cell.choices), cell.unit) == (["good", "repaired", "damaged"], "")
    assert cell.limits == "good or repaired"
    (now,) = sheets.fill(db, BY, visit, None, cell.name, "damaged", "", sheets.Units(US_CUSTOMARY))
    assert (now.text, now.state) == ("damaged", "out")
    (now,) = sheets.fill(
        db, BY, visit, None, cell.name, "repaired", "damaged", sheets.Units(US_CUSTOMARY)
    )
    assert (now.text, now.state) == ("repaired", "in")


def test_a_whole_sheet_judges_as_a_cell_does(db: Session):
    visit = factories.create_planned_visit(db)
    kind = measurements.kind_by_code(db, PLUGS)
    places = present(visit.head.plan).places(kind.place_kind)
    values = [whole_sheet.Value(kind, place, When.AFTER, "damaged") for place in places]
    rows = whole_sheet.record_all(db, BY, visit, values)
    assert {row.verdict for row in rows} == {Verdict.OUTSIDE}


def test_damage_stops_its_step_until_someone_decides(db: Session):
    step = factories.create_operation(db, kind="inspection")
    kind = measurements.kind_by_code(db, "thread condition")
    values = {"value": "damaged", "place": "stud 4"}
    measurements.record(db, BY, step.job_head, kind.id, values, step)
    assert [row.where for row in limit_checks.undecided(step)] == ["stud 4"]


def test_documents_show_the_words(db: Session):
    visit = factories.create_planned_visit(db)
    for cylinder, word in enumerate(("good", "repaired", "damaged"), start=1):
        record(db, visit, PLUGS, word, cylinder=str(cylinder))
    record(db, visit, "bolt hole condition", "damaged", place="hole 7")
    (head,) = inspection_reports.inspection_report(db, visit.job).heads
    (table,) = head.tables
    assert (table.kind, table.unit, table.outside) == ("Spark plug thread", "", 1)
    assert [present(cell).value for cell in table.rows[0].cells] == [
        "good",
        "repaired",
        "damaged",
        "",
    ]
    assert [(row.what, row.where, row.value) for row in head.others] == [
        ("Bolt hole condition", "hole 7", "damaged")
    ]
    (ordered,) = work_orders.work_order(db, visit.job).heads
    assert ordered.tables[0].kind == "Spark plug thread"
    assert casting_trends.trends(db, visit.head) == []


def test_a_shop_adds_a_condition_of_its_own(db: Session):
    row = kinds.add(db, BY, {"name": "Water jacket", "dimension": "condition",
                             "place_kind": "cylinder", "us_unit": "in", "si_unit": "mm",
                             "us_decimals": "3", "si_decimals": "2", "least": "1 mm"})  # fmt: skip
    assert (row.us_unit, row.si_unit, row.least) == ("", "", None)
    created = record(db, factories.create_planned_visit(db), row.code, "good", cylinder="1")
    assert created.verdict is Verdict.WITHIN


def test_past_jobs_are_found_by_damage(db: Session):
    visit = factories.create_planned_visit(db)
    record(db, visit, "thread condition", "damaged", place="stud 4")
    assert [row.tag for row in past_jobs.past_jobs(db, "threads damaged")] == [visit.tag]
    assert not past_jobs.past_jobs(db, "threads repaired")
