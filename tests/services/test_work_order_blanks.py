"""Blanks of a work order: a box for each place that a step asks for."""

from __future__ import annotations

import pymupdf
from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.documents import cautions
from shopflow.models import Visit
from shopflow.services.measuring import limits, measurements
from shopflow.services.routing import work_orders
from tests import factories
from tests.factories import BY

HEIGHT = "installed height"


def order_of(db: Session, visit: Visit) -> tuple[pymupdf.Document, str]:
    content = papers.work_order(work_orders.work_order(db, visit.job))
    pdf = pymupdf.open(stream=content)
    return pdf, " ".join(" ".join(page.get_text() for page in pdf).split())


def test_each_place_has_a_box_with_limits_and_the_last_known_value(db: Session):
    visit = factories.create_planned_visit(db)
    first = factories.create_operation(db, visit, "teardown")
    factories.create_operation(db, visit, "assembly")
    kind = measurements.kind_by_code(db, HEIGHT)
    bounds = {"lower": "1.790 in", "upper": "1.810 in"}
    limits.set_(db, BY, visit.head.engine_type, kind, "intake", bounds)
    place = {"cylinder": 2, "side": "intake", "valve": "1", "value": "1.802 in"}
    measurements.record(db, BY, visit, kind.id, place, first)
    (head,) = work_orders.work_order(db, visit.job).heads
    (assembly,) = head.steps[1:]
    heights = next(table for table in assembly.tables if table.kind == kind.name)
    assert (heights.columns, len(heights.rows)) == (("1", "2", "3", "4"), 4)
    assert heights.rows[0].limits == "1.790 to 1.810"
    assert [cell.last if cell else None for cell in heights.rows[0].cells] == ["", "1.802", "", ""]
    _, words = order_of(db, visit)
    assert "Measure in step 2, Assemble" in words or "Measure in step 2, Assembly" in words
    assert "was 1.802" in words


def test_a_head_without_a_layout_keeps_a_line_for_each_measurement(db: Session):
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, "assembly")
    (head,) = work_orders.work_order(db, visit.job).heads
    assert head.steps[0].tables == ()
    assert "Installed height of the spring" in head.steps[0].blanks


def test_cautions_stand_by_their_step_and_take_no_quarter_of_a_page(db: Session):
    visit = factories.create_visit(db)
    for code in ("teardown", "hot-wash", "pressure-test", "weld-repair", "seat-cut", "resurface",
                 "vacuum-test", "flow-test"):  # fmt: skip
        factories.create_operation(db, visit, code)
    pdf, words = order_of(db, visit)
    assert f"Take care: {cautions.BRIEF['rotating']}" in words
    (head,) = work_orders.work_order(db, visit.job).heads
    assert len(head.cautions) >= 8
    for key in head.cautions:
        assert cautions.BY_HAZARD[key][:30] in words
    page = pdf[-1]
    (top,), (end,) = (page.search_for(text)[:1] for text in ("Springs under load", "These are the"))
    assert end.y1 - top.y0 < page.rect.height / 4
    pdf.close()


def test_every_hazard_has_its_caution_in_brief():
    assert set(cautions.BRIEF) == set(cautions.BY_HAZARD)
