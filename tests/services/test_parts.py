"""Parts: catalog, stock, needs of heads, holds that end by themselves, orders, work sent out."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy import delete, func, insert, select, text, update
from sqlalchemy.exc import DBAPIError, IntegrityError
from sqlalchemy.orm import Session

from shopflow.models import (
    LineKind,
    MovementKind,
    OrderState,
    Part,
    PartNeed,
    PurchaseOrder,
    StockMovement,
    Supplier,
    Visit,
    WaitFor,
)
from shopflow.services.actor import Actor
from shopflow.services.billing import job_lines
from shopflow.services.jobs import jobs
from shopflow.services.parts import (
    catalog,
    needs,
    orders,
    part_holds,
    sent_out,
    stock,
    suppliers,
)
from shopflow.services.routing import holds
from tests import factories
from tests.services.expecting import assert_logged, faults_at, log_of, refused

VALVE = {"number": "EV-36", "name": "Exhaust valve 36 mm", "unit": "pc", "cost": "11.20",
         "price": "18.50", "bin": "B 3"}  # fmt: skip


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of a shop that uses parts."""
    factories.create_shop(db, uses_parts=True)
    return factories.create_visit(db)


@pytest.fixture
def supplier(db: Session, visit: Visit) -> Supplier:
    """A supplier of valves."""
    return suppliers.add(db, factories.BY, {"name": "Northgate Valves", "email": "o@v.example"})


@pytest.fixture
def valve(db: Session, supplier: Supplier) -> Part:
    """A valve of which none lies there."""
    return catalog.add(db, factories.BY, {**VALVE, "supplier_id": supplier.id})


def need(db: Session, visit: Visit, part: Part, quantity: str = "8", **values: Any) -> PartNeed:
    """A part that a head needs."""
    added = {"part_id": part.id, "quantity": quantity, "head": visit.tag, **values}
    return needs.add(db, factories.BY, visit.job, added)


def states(db: Session, visit: Visit) -> list[str]:
    """States of the parts of a job."""
    return [str(each.state) for each in needs.of_job(db, visit.job)]


def test_a_part_is_in_the_catalog_once_and_found_by_any_of_its_words(db: Session, valve: Part):
    with faults_at("number"):
        catalog.add(db, factories.BY, VALVE)
    with faults_at("number", "name"):
        catalog.add(db, factories.BY, {})
    with faults_at("supplier_id"):
        catalog.add(db, factories.BY, {**VALVE, "number": "2", "supplier_id": 999})
    seal = catalog.add(db, factories.BY, {"number": "100%", "name": "Seal", "reorder_point": "4"})
    assert [row.part for row in catalog.search(db, "b 36")] == [valve]
    assert [row.part for row in catalog.search(db, "0%")] == [seal]
    # Low stock first, though its name comes later.
    assert [row.part.name for row in catalog.search(db)] == ["Seal", "Exhaust valve 36 mm"]
    assert [row.is_low for row in catalog.search(db)] == [True, False]
    with faults_at("name"):
        suppliers.add(db, factories.BY, {"name": "Northgate Valves"})
    catalog.change(db, factories.BY, valve, {"price": "19.00"})
    assert valve.price == Decimal("19.00")


def test_stock_is_the_sum_of_its_movements_and_never_below_nothing(
    db: Session, machinist: Actor, visit: Visit, valve: Part
):
    stock.count(db, machinist, valve, Decimal(10))
    stock.receive(db, machinist, valve, Decimal("2.5"))
    stock.correct(db, machinist, valve, Decimal("-0.5"), "one half was bent")
    row = need(db, visit, valve)
    needs.fit(db, machinist, row)
    with refused("fitted already"):
        needs.fit(db, machinist, row)
    with refused("4 of EV-36.*in stock, 5 wanted"):
        stock.correct(db, machinist, valve, Decimal(-5), "lost")
    needs.put_back(db, machinist, row)
    with refused("nothing of this part is fitted"):
        needs.put_back(db, machinist, row)
    stock.count(db, machinist, valve, Decimal(12), "agrees")
    db.flush()
    rows = list(reversed(stock.movements(db, valve)))
    assert [(row.kind, row.change, row.on_hand) for row in rows] == [
        (MovementKind.COUNTED, Decimal(10), Decimal(10)),
        (MovementKind.RECEIVED, Decimal("2.5"), Decimal("12.5")),
        (MovementKind.CORRECTED, Decimal("-0.5"), Decimal(12)),
        (MovementKind.FITTED, Decimal(-8), Decimal(4)),
        (MovementKind.RETURNED, Decimal(8), Decimal(12)),
        (MovementKind.COUNTED, Decimal(0), Decimal(12)),
    ]
    # By hand, past the program: thousandths.
    total = db.scalar(text("SELECT sum(change) FROM stock_movement"))
    assert int(total or 0) == 12_000
    assert stock.on_hand(db, valve) == stock.levels(db, [valve.id])[valve.id] == Decimal(12)
    assert_logged(db, rows[2], machinist, "corrected")
    assert log_of(db, rows[2])[0].note == "EV-36, Exhaust valve 36 mm: -0.5; one half was bent"
    assert log_of(db, rows[3])[0].job_id == visit.job_id
    with faults_at("change", "why"):
        stock.correct(db, machinist, valve, Decimal(0), "")


def test_the_database_itself_refuses_a_stock_below_nothing_a_number_twice_and_a_change(
    db: Session, machinist: Actor, valve: Part
):
    row = stock.receive(db, machinist, valve, Decimal(3))
    db.flush()
    shared = {"part_id": valve.id, "at": factories.NOW, "why": "x", "kind": MovementKind.CORRECTED}
    for values in (
        {"sequence": 1, "change": Decimal(1), "on_hand": Decimal(4)},
        {"sequence": 2, "change": Decimal(-4), "on_hand": Decimal(-1)},
        {"sequence": 2, "change": Decimal(1), "on_hand": Decimal(4), "why": ""},
    ):
        movement = insert(StockMovement).values(**{**shared, **values})
        with pytest.raises(IntegrityError), db.begin_nested():
            db.connection().execute(movement)
    for statement in (
        update(StockMovement).where(StockMovement.id == row.id).values(on_hand=Decimal(9)),
        delete(StockMovement).where(StockMovement.id == row.id),
    ):
        with pytest.raises(DBAPIError, match="only appended to"), db.begin_nested():
            db.execute(statement)
    row.why = "other"
    with refused("cannot be changed"), db.begin_nested():
        db.flush()


def test_parts_go_to_the_needs_of_open_jobs_in_the_order_they_were_added(
    db: Session, machinist: Actor, visit: Visit, valve: Part, supplier: Supplier
):
    other = factories.create_visit(db, customer=visit.job.customer)
    first, second = need(db, visit, valve), need(db, other, valve, "4")
    assert states(db, visit) == states(db, other) == ["needed"]
    (wanted,) = orders.wanted(db)[supplier]
    assert (wanted.quantity, wanted.is_approved) == (Decimal(12), False)
    assert wanted.tags == (visit.tag, other.tag)
    for job in (visit.job, other.job):
        factories.approve(db, machinist, job)
    assert orders.wanted(db)[supplier][0].is_approved
    stock.receive(db, machinist, valve, Decimal(9))
    assert (states(db, visit), states(db, other)) == (["here"], ["needed"])
    assert [each.short for each in needs.of_part(db, valve)] == [Decimal(0), Decimal(3)]
    order = orders.draft(db, machinist, supplier, orders.wanted(db)[supplier])
    assert [(line.quantity, line.cost) for line in order.lines] == [(Decimal(3), Decimal("11.20"))]
    # What is drafted is not wanted twice, and not on order either.
    assert orders.wanted(db) == {}
    assert states(db, other) == ["needed"]
    orders.issue(db, machinist, order)
    assert states(db, other) == ["ordered"]
    needs.fit(db, machinist, second)
    assert (states(db, visit), states(db, other)) == (["ordered"], ["fitted"])
    # The first needs 8, of which 5 lie there and 3 are to come.
    assert needs.of_job(db, visit.job)[0].here == Decimal(5)
    with refused("5 of EV-36"):
        needs.fit(db, machinist, first)
    orders.receive(db, machinist, order)
    needs.fit(db, machinist, first)
    assert (states(db, visit), order.state) == (["fitted"], OrderState.CLOSED)
    with refused("put it back in stock"):
        job_lines.remove(db, machinist, first.line)


def test_a_declined_or_removed_line_needs_nothing(
    db: Session, machinist: Actor, visit: Visit, valve: Part
):
    row = need(db, visit, valve)
    job_lines.remove(db, machinist, row.line)
    assert needs.of_job(db, visit.job) == []
    with refused("not needed any more"):
        needs.fit(db, machinist, row)
    need(db, visit, valve)
    assert [each.short for each in needs.short(db)] == [Decimal(8)]
    jobs.cancel(db, machinist, visit.job, "sold")
    assert needs.short(db) == []


def test_a_hold_for_parts_ends_by_itself_when_the_last_is_here(
    db: Session, machinist: Actor, visit: Visit, valve: Part, supplier: Supplier
):
    step = factories.create_operation(db, visit, "valve-grind", price="60.00")
    need(db, visit, valve, operation_id=step.id)
    own = {"description": "Springs", "quantity": "16", "is_customers_own": True, "head": visit.tag}
    brought = needs.add(db, machinist, visit.job, own)
    assert (brought.line.price, brought.part) == (Decimal("0.00"), None)
    hold = part_holds.begin(db, machinist, visit, needs.of_job(db, visit.job))
    assert (hold.wait_for, hold.what) == (WaitFor.PARTS, "8 Exhaust valve 36 mm, 16 Springs")
    with refused("waits for its parts already"):
        part_holds.begin(db, machinist, visit, needs.of_job(db, visit.job))
    order = orders.draft(db, machinist, supplier, orders.wanted(db)[supplier])
    orders.issue(db, machinist, order)
    (line,) = order.lines
    orders.receive(db, machinist, order, {line.id: "5"})
    assert (line.received, line.outstanding, order.state) == (
        Decimal(5),
        Decimal(3),
        OrderState.PLACED,
    )
    assert orders.expected(order, date(2026, 3, 5)) == "partly received"
    orders.receive(db, machinist, order, {line.id: "3"})
    assert states(db, visit) == ["here", "ordered"]
    assert not hold.is_over
    with refused("not here yet"):
        needs.fit(db, machinist, brought)
    needs.own_is_here(db, machinist, brought)
    assert hold.is_over
    assert_logged(db, hold, machinist, "over")
    with refused("every part of this head is here"):
        part_holds.begin(db, machinist, visit, needs.of_job(db, visit.job))
    needs.fit(db, machinist, brought)
    with refused("fitted already"):
        needs.fit(db, machinist, brought)
    assert states(db, visit) == ["here", "fitted"]
    needs.put_back(db, machinist, brought)
    assert states(db, visit) == ["here", "here"]


def test_a_hold_that_a_person_began_is_ended_by_a_person(
    db: Session, machinist: Actor, visit: Visit, valve: Part
):
    need(db, visit, valve)
    by_hand = holds.begin(db, machinist, visit, {"wait_for": "parts", "what": "a crate"})
    stock.receive(db, machinist, valve, Decimal(8))
    needs.settle_holds(db, machinist, [valve.id])
    assert not by_hand.is_over


def test_a_need_is_of_the_catalog_or_the_customers(db: Session, visit: Visit, valve: Part):
    with faults_at("part_id"):
        needs.add(db, factories.BY, visit.job, {"quantity": "8"})
    with faults_at("part_id"):
        need(db, visit, valve, is_customers_own=True)
    with faults_at("operation_id"):
        need(db, visit, valve, operation_id="999")
    row = need(db, visit, valve, unit_price="17.00")
    assert (row.line.price, row.line.part_number) == (Decimal("136.00"), "EV-36")


def test_a_line_typed_by_hand_is_followed_by_its_part_number(
    db: Session, machinist: Actor, visit: Visit, valve: Part
):
    typed = {"description": "Valves", "quantity": "8", "head": visit.tag}
    lines = [
        job_lines.add(db, machinist, visit.job, LineKind.PART, {**typed, "part_number": number})
        for number in ("EV-36", "EV-37", "")
    ]
    assert needs.not_followed(visit.job) == lines
    for line in lines[1:]:
        with refused("not in the catalog"):
            needs.follow(db, machinist, line)
    needs.follow(db, machinist, lines[0])
    db.flush()
    assert needs.not_followed(visit.job) == lines[1:]
    assert [each.row.part for each in needs.of_job(db, visit.job)] == [valve]
    with refused("not in the catalog"):
        needs.follow(db, machinist, lines[0])


@pytest.fixture
def placed(
    db: Session, machinist: Actor, visit: Visit, valve: Part, supplier: Supplier
) -> PurchaseOrder:
    """An order of 8 valves and 2 tubes of paste."""
    values = {"number": "LP", "name": "Lapping paste", "reorder_point": "1"}
    paste = catalog.add(db, machinist, {**values, "supplier_id": supplier.id})
    need(db, visit, valve)
    order = orders.draft(db, machinist, supplier, orders.wanted(db)[supplier])
    db.flush()
    assert [(line.part, line.quantity) for line in order.lines] == [
        (valve, Decimal(8)),
        (paste, Decimal(2)),
    ]
    return orders.issue(db, machinist, order)


def test_an_order_is_received_in_parts_and_its_back_order_cancelled(
    db: Session, machinist: Actor, placed: PurchaseOrder, valve: Part
):
    valves, paste = placed.lines
    with faults_at(f"received-{valves.id}"):
        orders.receive(db, machinist, placed, {valves.id: "8.5"})
    with refused("nothing received"):
        orders.receive(db, machinist, placed, {valves.id: "0", paste.id: ""})
    orders.receive(db, machinist, placed, {valves.id: "6"})
    with refused("part of this order is here"):
        orders.cancel(db, machinist, placed, "too slow")
    orders.cancel_rest(db, machinist, valves)
    with refused("nothing of this line is to come"):
        orders.cancel_rest(db, machinist, valves)
    assert placed.state is OrderState.PLACED
    orders.receive(db, machinist, placed)
    assert (placed.state, paste.received) == (OrderState.CLOSED, Decimal(2))
    with refused("is closed"):
        orders.receive(db, machinist, placed)
    assert stock.on_hand(db, valve) == Decimal(6)
    # The two that will not come are needed again.
    assert [(row.part, row.quantity) for row in orders.wanted(db)[placed.supplier]] == [
        (valve, Decimal(2))
    ]
    assert placed.number == "PO-2026-0001"


def test_a_draft_is_changed_and_an_order_cancelled_with_a_reason(
    db: Session, machinist: Actor, supplier: Supplier, valve: Part
):
    order = orders.draft(db, machinist, supplier)
    with refused("has no line"):
        orders.issue(db, machinist, order)
    with faults_at("part_id"):
        orders.add_line(db, machinist, order, {"part_id": 999, "quantity": "1"})
    line = orders.add_line(db, machinist, order, {"part_id": valve.id, "quantity": "2"})
    orders.add_line(db, machinist, order, {"part_id": valve.id, "quantity": "3"})
    assert (line.quantity, order.total) == (Decimal(5), Decimal("56.00"))
    with faults_at(f"quantity-{line.id}"):
        orders.change(db, machinist, order, {}, {line.id: {"quantity": "many"}})
    seen = {line.id: {"quantity": "4", "cost": "10.00"}}
    orders.change(db, machinist, order, {"expected_on": "2026-03-01"}, seen)
    assert order.total == Decimal("40.00")
    orders.issue(db, machinist, order)
    assert orders.expected(order, date(2026, 3, 5)) == "late"
    with refused("is placed"):
        orders.change(db, machinist, order, {"notes": "please"}, {})
    with faults_at("cancel_reason"):
        orders.cancel(db, machinist, order, "")
    orders.cancel(db, machinist, order, "price went up")
    assert_logged(db, order, machinist, "cancelled", state=["placed", "cancelled"])
    with refused("is cancelled"):
        orders.receive(db, machinist, order)
    assert db.scalar(select(func.count()).select_from(StockMovement)) == 0
    empty = orders.draft(db, machinist, supplier)
    line = orders.add_line(db, machinist, empty, {"part_id": valve.id, "quantity": "2"})
    orders.change(db, machinist, empty, {}, {line.id: {"quantity": "0"}})
    assert empty.lines == []


def test_outside_work_is_sent_with_a_hold_and_is_back_with_its_cost(
    db: Session, machinist: Actor, visit: Visit, supplier: Supplier
):
    values = {"description": "Weld crack", "unit_price": "180.00", "head": visit.tag}
    line = job_lines.add(db, machinist, visit.job, LineKind.OUTSIDE_WORK, values)
    assert sent_out.to_send(visit.job, []) == [line]
    with faults_at("supplier_id"):
        sent_out.send(db, machinist, line, {})
    with faults_at("due_on"):
        sent_out.send(db, machinist, line, {"supplier_id": supplier.id, "due_on": "2026-03-01"})
    row = sent_out.send(db, machinist, line, {"supplier_id": supplier.id, "due_on": "2026-03-12"})
    (hold,) = holds.still(visit)
    assert (row.sent_on, hold.wait_for) == (date(2026, 3, 5), WaitFor.OUTSIDE)
    assert hold.expected_on == date(2026, 3, 12)
    assert sent_out.still_out(db) == [row]
    with refused("out already"):
        sent_out.send(db, machinist, line, {"supplier_id": supplier.id})
    with faults_at("back_on"):
        sent_out.bring_back(db, machinist, row, {"back_on": "2026-03-04"})
    sent_out.bring_back(db, machinist, row, {"cost": "120.00"})
    assert (row.cost, row.back_on) == (Decimal("120.00"), date(2026, 3, 5))
    assert holds.still(visit) == []
    with refused("back already"):
        sent_out.bring_back(db, machinist, row, {})
    assert sent_out.to_send(visit.job, sent_out.of_job(db, visit.job)) == []
