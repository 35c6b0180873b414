"""Lines of a job on its work order: parts with where they are, work outside; never a price."""

from __future__ import annotations

from decimal import Decimal

import pymupdf
from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.documents.bench_lines import PartToFit, WorkOutside
from shopflow.models import LineKind
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.services.counter import work_orders
from shopflow.services.parts import catalog, needs, sent_out, stock, suppliers
from tests import factories


def text_of(pdf: bytes) -> list[str]:
    """The words of each page."""
    with pymupdf.open(stream=pdf) as document:
        return [" ".join(page.get_text().split()) for page in document]


def test_each_line_stands_with_its_head_or_with_the_first(db: Session, machinist: Actor):
    factories.create_shop(db, uses_parts=True)
    job = factories.create_job(db, head_count=2)
    first, second = job.heads
    step = factories.create_operation(db, first, "assembly", price="77.77")
    vendor = suppliers.add(db, machinist, {"name": "Weldon Works"})
    valve = catalog.add(
        db, machinist, {"number": "V 7", "name": "Valve", "unit": "pc", "price": "18.50"}
    )
    on_shelf = {"part_id": valve.id, "quantity": "8", "operation_id": step.id}
    needs.add(db, machinist, job, on_shelf)
    own = {"is_customers_own": True, "description": "Springs", "quantity": "1", "unit": "set"}
    needs.add(db, machinist, job, {**own, "head": second.tag})
    stock.count(db, machinist, valve, Decimal(8), "first count")
    welding = {"description": "Weld chamber", "unit_price": "90.00", "head": second.tag}
    weld = job_lines.add(db, machinist, job, LineKind.OUTSIDE_WORK, welding)
    sent_out.send(db, machinist, weld, {"supplier_id": vendor.id, "due_on": "2026-03-20"})
    for kind, values in (
        (LineKind.PART, {"description": "Gasket", "unit_price": "31.00"}),
        (LineKind.FREIGHT, {"description": "Crate home", "unit_price": "44.00"}),
        (LineKind.DISCOUNT, {"description": "Old friend", "unit_price": "5.00"}),
        (LineKind.TEXT, {"description": "Paint it black"}),
    ):
        job_lines.add(db, machinist, job, kind, values)

    order = work_orders.work_order(db, job)
    (valves,) = order.heads[0].lines.parts
    assert valves == PartToFit("8 pc", "Valve", "V 7", step.title, "here", is_here=True)
    (springs,) = order.heads[1].lines.parts
    assert (springs.quantity, springs.state) == ("1 set", "customer brings")
    (welded,) = order.heads[1].lines.outside
    assert isinstance(welded, WorkOutside)
    assert (welded.vendor, str(welded.due_on), welded.back_on) == (
        "Weldon Works", "2026-03-20", None,
    )  # fmt: skip
    assert order.lines.parts == (PartToFit("1", "Gasket"),)
    assert order.lines.others == (
        "Freight: Crate home",
        "Discount: Old friend",
        "Paint it black",
    )

    pages = text_of(papers.work_order(order))
    assert "V 7" in pages[0]
    assert "Parts of the whole job" in pages[0]
    assert "Gasket" not in pages[-1]
    assert "Weldon Works" in pages[-1]
    whole = " ".join(pages)
    for price in ("77.77", "18.50", "90.00", "31.00", "44.00"):
        assert price not in whole, price
