"""Nothing is cut before approval, but on the owner's word; extra work is approved apart."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow import issuing
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.quote import Quote as QuotePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import JobState, OperationState
from shopflow.services.actor import Actor
from shopflow.services.billing import approvals, balances, quotes
from shopflow.services.counter import customer_view
from shopflow.services.jobs import jobs
from shopflow.services.routing import operations, step_order
from tests import factories
from tests.services.expecting import faults_at, last_entry, refused


def test_the_owner_releases_steps_with_a_reason_and_only_those(
    db: Session, machinist: Actor, by: Actor
):
    visit = factories.create_visit(db)
    seat, port = (factories.create_operation(db, visit, kind) for kind in ("seat-cut", "port-work"))
    factories.create_operation(db, visit, "flow-test")
    assert approvals.waiting(db, visit.job) == [seat, port]
    with faults_at("reason"):
        approvals.release(db, machinist, visit.job, [seat], "")
    with refused("no step waits"):
        approvals.release(db, machinist, visit.job, [], "he said so")
    with refused("needs a person"):
        approvals.release(db, by, visit.job, [seat], "he said so")
    (row,) = approvals.release(db, machinist, visit.job, [seat], "away until Monday")
    assert (row.person, row.at, row.reason) == (
        machinist.person,
        machinist.at,
        "away until Monday",
    )
    assert last_entry(db, row).note == f"Cut seats, {visit.tag}: away until Monday"
    assert approvals.waiting(db, visit.job) == [port]
    operations.start(db, machinist, seat)
    assert visit.job.state is JobState.IN_WORK
    with refused("no metal is cut"):
        operations.start(db, machinist, port)
    jobs.cancel(db, machinist, visit.job, "sold")
    with refused("cancelled"):
        approvals.release(db, machinist, visit.job, [port], "too late")


def test_work_found_after_an_approval_without_a_quote_is_asked_for_apart(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    seat = factories.create_operation(db, visit, "seat-cut", price="100.00")
    factories.approve(db, machinist, visit.job, "Cal Pruitt", "telephone")
    kind = operations.kind_by_code(db, "weld-repair")
    operation = operations.add(db, machinist, visit, kind.id, {"price": "50.00"}, is_extra=True)
    assert approvals.waiting(db, visit.job) == [operation]
    with refused("extra work that the customer has not approved"):
        operations.start(db, machinist, operation)
    quote = issuing.give_quote(db, machinist, visit.job, {})
    content = from_plain(QuotePaper, quote.snapshot)
    assert [line.what for line in content.extras] == ["Repair by welding"]
    assert [line.what for line in content.lines] == ["Cut seats"]
    assert content.agreed.startswith("the work as booked in, by Cal Pruitt, telephone")
    quotes.approve_job(db, machinist, visit.job, "Cal Pruitt", "e-mail", seen=quote.title)
    operations.start(db, machinist, operation)
    operations.start(db, machinist, seat)


def test_before_the_approval_nothing_is_extra(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    kind = operations.kind_by_code(db, "weld-repair")
    assert not operations.add(db, machinist, visit, kind.id, {}, is_extra=True).found


def test_what_is_added_after_an_agreed_quote_is_not_cut_before_it_is_asked_for(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    seat = factories.create_operation(db, visit, "seat-cut")
    quote = issuing.give_quote(db, machinist, visit.job, {})
    quotes.approve_job(db, machinist, visit.job, "Cal", "in person", seen=quote.title)
    extra = factories.create_operation(db, visit, "port-work")
    with refused("extra work"):
        operations.start(db, machinist, extra)
    # Doing once more what was agreed is agreed.
    again = step_order.repeat(db, machinist, seat, "run-out")
    operations.start(db, machinist, again)
    second = issuing.give_quote(db, machinist, visit.job, {})
    content = from_plain(QuotePaper, second.snapshot)
    assert [line.what for line in content.extras] == ["Port"]
    assert [line.what for line in content.lines] == ["Cut seats"]


def test_approving_a_job_approves_the_quote_that_waits(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    factories.create_operation(db, visit, "seat-cut")
    quote = issuing.give_quote(db, machinist, visit.job, {})
    with refused("another quote was sent meanwhile"):
        quotes.approve_job(db, machinist, visit.job, "Cal", "telephone")
    quotes.approve_job(db, machinist, visit.job, "Cal", "telephone", seen=quote.title)
    assert (quote.approved_by, quote.approved_how) == ("Cal", "telephone")
    assert (visit.job.approved_by, visit.job.state) == ("Cal", JobState.APPROVED)
    with refused("approved already, by Cal"):
        quotes.approve_job(db, machinist, visit.job, "Cal", "telephone")
    jobs.cancel(db, machinist, visit.job, "sold")
    with refused("cancelled"):
        quotes.approve_job(db, machinist, visit.job, "Cal", "telephone")


@pytest.mark.parametrize("state", list(JobState))
def test_a_job_moves_only_to_what_follows_its_state(db: Session, machinist: Actor, state: JobState):
    step = factories.create_operation(db)
    job = step.job_head.job
    issuing.give_quote(db, machinist, job, {})
    operations.skip(db, machinist, step, "not needed")
    job.approved_at, job.approved_by, job.cancel_reason = machinist.at, "Cal", "none"
    for wanted in JobState:
        job.state = state
        if wanted is JobState.CANCELLED or wanted in jobs.FOLLOWS[state]:
            continue
        with refused("comes|no other state follows"):
            jobs.move(db, machinist, job, wanted)
        assert job.state is state
    for wanted in jobs.FOLLOWS[state]:
        job.state = state
        jobs.move(db, machinist, job, wanted, untouched_because="not worth the work")
        assert job.state is wanted


def test_nothing_is_approved_where_no_work_is_priced(db: Session, machinist: Actor):
    job = factories.create_job(db)
    with refused("no work is planned yet"):
        quotes.approve_job(db, machinist, job, "Cal", "telephone")
    step = factories.create_operation(db, job.heads[0], "seat-cut", price="")
    for act in (
        lambda: issuing.give_quote(db, machinist, job, {}),
        lambda: approvals.record(db, machinist, job, "Cal", "telephone"),
    ):
        with refused("not priced yet: Cut seats"):
            act()
    operations.change(db, machinist, step, {"price": "0"})
    with refused("no step has a price above 0.00"):
        approvals.record(db, machinist, job, "Cal", "telephone")
    assert job.approved_at is None
    with refused("no metal is cut"):
        operations.start(db, machinist, step)
    operations.change(db, machinist, step, {"price": "1"})
    seen = quotes.work_seen(job)
    operations.change(db, machinist, step, {"price": "2"})
    with refused("its prices changed meanwhile"):
        quotes.approve_job(db, machinist, job, "Cal", "telephone", seen=seen)
    approvals.record(db, machinist, job, "Cal", "telephone")
    operations.start(db, machinist, step)


def test_the_approved_sum_and_lines_are_kept_and_never_changed(db: Session, machinist: Actor):
    factories.create_shop(db, tax_rate_percent="8.25")
    visit = factories.create_visit(db)
    steps = [factories.create_operation(db, visit, price=price) for price in ("100.00", "50.05")]
    row = approvals.record(db, machinist, visit.job, "Cal Pruitt", "telephone")
    operations.change(db, machinist, steps[0], {"price": "999"})
    db.flush()
    db.expire_all()
    assert approvals.of_job(db, visit.job) == [row]
    assert (row.total, row.approved_by) == (Decimal("162.43"), "Cal Pruitt")
    assert [(line.operation_id, line.price) for line in row.lines] == [
        (steps[0].id, Decimal("100.00")),
        (steps[1].id, Decimal("50.05")),
    ]
    row.total = Decimal(1)
    with refused("cannot be changed"):
        db.flush()


def test_a_price_raised_after_the_approval_is_extra_until_it_is_approved(
    db: Session, machinist: Actor
):
    visit = factories.create_visit(db)
    seat = factories.create_operation(db, visit, "seat-cut", price="190.00")
    test = factories.create_operation(db, visit, price="75.00")
    first = issuing.give_quote(db, machinist, visit.job, {})
    quotes.approve(db, machinist, first, "Cal", "telephone")
    operations.change(db, machinist, seat, {"price": "1999.00"})
    operations.change(db, machinist, test, {"price": "70.00"})
    assert balances.of_job(db, visit.job).not_approved == (seat,)
    assert approvals.waiting(db, visit.job) == [seat]
    with refused("extra work"):
        operations.start(db, machinist, seat)
    with refused("not approved by the customer: Cut seats"):
        issuing.issue_invoice(db, machinist, visit.job, [seat.id, test.id])
    second = issuing.give_quote(db, machinist, visit.job, {})
    content = from_plain(QuotePaper, second.snapshot)
    assert [line.what for line in content.extras] == ["Cut seats"]
    quotes.approve(db, machinist, second, "Cal", "e-mail")
    operations.start(db, machinist, seat)
    assert balances.of_job(db, visit.job).not_approved == ()


def test_a_declined_line_is_neither_done_nor_invoiced_and_said(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    seat = factories.create_operation(db, visit, "seat-cut", price="190.00")
    deck = factories.create_operation(db, visit, "resurface", price="95.00")
    quote = issuing.give_quote(db, machinist, visit.job, {})
    with refused("every line is declined"):
        quotes.approve(db, machinist, quote, "Cal", "telephone", declined=[seat.id, deck.id])
    quotes.approve(db, machinist, quote, "Cal", "telephone", declined=[deck.id])
    (row,) = approvals.of_job(db, visit.job)
    assert (row.total, [line.declined for line in row.lines]) == (Decimal(190), [False, True])
    assert deck.state is OperationState.DECLINED
    assert last_entry(db, deck).verb == "declined"
    assert visit.next_operation is seat
    with refused("declined already"):
        operations.start(db, machinist, deck)
    operations.sign_off(db, machinist, seat, {"not_measured_because": "gauge is out"})
    assert visit.next_operation is None
    job = balances.of_job(db, visit.job)
    assert (job.to_invoice, job.left) == ((seat,), Decimal(190))
    invoice = issuing.issue_invoice(db, machinist, visit.job)
    assert from_plain(InvoicePaper, invoice.snapshot).declined == (f"{visit.tag}: Resurface",)
    (head,) = customer_view.of(db, visit.job, shows_prices=True).heads
    assert (head.steps, head.declined) == (1, ("Resurface",))
    # Taken up again, it is extra work to be asked for.
    operations.reopen(db, machinist, deck)
    with refused("extra work"):
        operations.start(db, machinist, deck)


def test_a_step_that_was_begun_cannot_be_declined(db: Session, machinist: Actor):
    visit = factories.create_visit(db)
    wash = factories.create_operation(db, visit, "hot-wash", price="45.00")
    factories.create_operation(db, visit, "seat-cut", price="190.00")
    operations.start(db, machinist, wash)
    quote = issuing.give_quote(db, machinist, visit.job, {})
    with refused(r"Hot-wash \(started\)"):
        quotes.approve(db, machinist, quote, "Cal", "telephone", declined=[wash.id])
