"""The price list by engine type and number of valves; packages at a price of their own."""

from __future__ import annotations

from decimal import Decimal
from typing import Any

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import LineKind, Operation, PriceEntry, Routing, Visit
from shopflow.services.actor import Actor
from shopflow.services.billing import (
    approvals,
    balances,
    job_lines,
    packages,
    price_list,
    quotes,
)
from shopflow.services.routing import operation_kinds, operations, work_plans
from tests import factories
from tests.services.expecting import faults_at, refused


@pytest.fixture
def visit(db: Session) -> Visit:
    """A head of 8 valves."""
    factories.create_shop(db)
    return factories.create_visit(db)


def add_price(db: Session, kind: str, price: str, **values: Any) -> PriceEntry:
    """A price of a type of step."""
    key = operations.kind_by_code(db, kind).id
    return price_list.add(db, factories.BY, {"kind_id": key, "price": price, **values})


def add_step(db: Session, visit: Visit, kind: str = "valve-grind", **values: str) -> Operation:
    """A step whose price is left blank."""
    key = operations.kind_by_code(db, kind).id
    return operations.add(db, factories.BY, visit, key, values)


def test_the_price_that_describes_a_head_most_closely_is_taken(db: Session, visit: Visit):
    kind = operations.kind_by_code(db, "valve-grind")
    operation_kinds.change(db, factories.BY, kind, {"usual_price": "50.00"})
    assert add_step(db, visit).price == Decimal("50.00")
    add_price(db, "valve-grind", "60.00")
    assert add_step(db, visit).price == Decimal("60.00")
    add_price(db, "valve-grind", "99.00", valves="16")
    assert add_step(db, visit).price == Decimal("60.00")
    assert price_list.valves_of(visit.head) == 8
    add_price(db, "valve-grind", "9.50", valves="8", per_valve=True)
    assert add_step(db, visit).price == Decimal("76.00")
    own = add_price(db, "valve-grind", "70.00", engine_type_id=visit.head.engine_type_id)
    assert add_step(db, visit).price == Decimal("70.00")
    price_list.change(db, factories.BY, own, {"kind_id": own.kind_id, "price": "71.00"})
    assert own.engine_type_id is None
    assert add_step(db, visit, price="5.00").price == Decimal("5.00")
    price_list.remove(db, factories.BY, own)
    assert add_step(db, visit).price == Decimal("76.00")


def test_a_price_names_a_step_or_a_part(db: Session, visit: Visit):
    with faults_at("kind_id"):
        price_list.add(db, factories.BY, {"price": "5.00"})
    with faults_at("price"):
        price_list.add(db, factories.BY, {"description": "Guide"})
    with faults_at("kind_id", "engine_type_id"):
        price_list.add(db, factories.BY, {"kind_id": 999, "engine_type_id": 999, "price": "1"})
    with faults_at("per_valve"):
        price_list.add(db, factories.BY, {"description": "Guide", "price": "1", "per_valve": True})
    guide = {"description": "Guide", "part_number": "VG-6", "unit": "pc", "price": "7.85"}
    entry = price_list.add(db, factories.BY, guide)
    price_list.add(db, factories.BY, {**guide, "description": "Big guide", "valves": "32"})
    assert price_list.of_parts(db, visit) == [entry]
    assert len(price_list.of_parts(db)) == 2
    line = job_lines.add(
        db, factories.BY, visit.job, LineKind.PART, {**price_list.as_line(entry), "quantity": "8"}
    )
    assert (line.price, line.unit) == (Decimal("62.80"), "pc")


@pytest.fixture
def template(db: Session, visit: Visit) -> Routing:
    """Two steps and eight seals as a package of 250.00."""
    steps = [{"kind": "teardown", "price": "95.00"}, {"kind": "valve-grind", "price": "120.00"}]
    seals = {"description": "Seal", "quantity": "8", "unit": "pc", "unit_price": "3.40"}
    package = {"package_price": "250.00"}
    return work_plans.save(db, factories.BY, "Valve job", "", steps, [seals], package)


def test_a_package_is_charged_at_its_own_price(
    db: Session, machinist: Actor, visit: Visit, template: Routing
):
    steps = operations.add_routing(db, machinist, visit, template)
    package, seals = visit.job.lines
    assert [step.price for step in steps] == [0, 0]
    assert (package.kind, package.price, seals.price) == (
        LineKind.PACKAGE,
        Decimal(250),
        Decimal(0),
    )
    with refused("in package Valve job"):
        job_lines.change(db, machinist, seals, {"unit_price": "5"})
    sent = issuing.give_quote(db, machinist, visit.job, {})
    assert sent.total == Decimal("250.00")
    with faults_at("lines"):
        quotes.approve(db, machinist, sent, "Cal", "telephone", declined=[steps[1].key])
    quotes.approve(db, machinist, sent, "Cal", "telephone")
    assert not balances.of_job(db, visit.job).not_approved
    assert approvals.forbids(db, steps[1]) == ""
    for step in steps:
        operations.sign_off(db, machinist, step, {"not_measured_because": "gauge is out"})
    invoice = issuing.issue_invoice(db, machinist, visit.job)
    lines = from_plain(InvoicePaper, invoice.snapshot).lines
    assert invoice.total == Decimal("250.00")
    assert {line.detail for line in lines} == {"", "included in Valve job"}
    assert len(lines) == 4


def test_a_package_added_after_the_approval_is_extra_with_all_that_is_in_it(
    db: Session, machinist: Actor, visit: Visit, template: Routing
):
    factories.create_operation(db, visit, price="60.00")
    factories.approve(db, machinist, visit.job)
    steps = operations.add_routing(db, machinist, visit, template)
    sent = issuing.give_quote(db, machinist, visit.job, {})
    package, seals = visit.job.lines
    extra = [line.key for line in sent.lines if line.extra]
    assert extra == [package.key, *(step.key for step in steps), seals.key]
    quotes.approve(db, machinist, sent, "Cal", "telephone")
    assert not balances.of_job(db, visit.job).not_approved


def test_a_package_declined_takes_its_steps_and_parts_with_it(
    db: Session, machinist: Actor, visit: Visit, template: Routing
):
    other = factories.create_operation(db, visit, price="60.00")
    steps = operations.add_routing(db, machinist, visit, template)
    sent = issuing.give_quote(db, machinist, visit.job, {})
    package, seals = visit.job.lines
    quotes.approve(db, machinist, sent, "Cal", "telephone", declined=[package.key])
    assert all(step.is_declined for step in steps)
    assert package.is_declined
    assert seals.is_declined
    assert balances.of_job(db, visit.job).to_invoice == (other,)


def test_a_package_removed_leaves_its_steps_to_be_priced(
    db: Session, machinist: Actor, visit: Visit, template: Routing
):
    steps = operations.add_routing(db, machinist, visit, template)
    package, seals = visit.job.lines
    packages.remove(db, machinist, package)
    assert not package.counts
    assert not seals.counts
    assert [(step.price, step.package) for step in steps] == [(None, None)] * 2


def test_a_template_without_a_package_price_adds_parts_at_theirs(
    db: Session, machinist: Actor, visit: Visit
):
    seals = {"description": "Seal", "quantity": "8", "unit_price": "3.40"}
    row = work_plans.save(db, factories.BY, "Seals", "", [{"kind": "teardown"}], [seals])
    operations.add_routing(db, machinist, visit, row)
    (line,) = visit.job.lines
    assert (line.price, line.tag, line.package) == (Decimal("27.20"), visit.tag, None)
    with faults_at("parts-0-quantity"):
        work_plans.save(db, factories.BY, "More", "", [{"kind": "teardown"}],
                        [{**seals, "quantity": "-1"}])  # fmt: skip
