"""Parts counted in, handing over, warranty returns. Common practice, no source."""

from __future__ import annotations

import pymupdf
import pytest

from shopflow import issuing
from shopflow.errors import NotFoundError
from shopflow.models import HandedOver, Job, JobState, Role
from shopflow.services.billing import balances, quotes
from shopflow.services.counter import booking, collections, customer_view
from shopflow.services.counter.collections import PartBack
from shopflow.services.jobs import jobs, received_parts, warranty
from shopflow.services.registry import heads
from shopflow.services.routing import operations
from tests import factories
from tests.optional import present
from tests.services.expecting import assert_logged, faults_at, last_entry, refused

COUNTED = "8 intake valves\n8 exhaust valves\n16 springs"
COLLECTED = {"how": "collected", "handed_on": "2026-03-14", "handed_to": "Orla Finch"}
SHIPPED = {
    **COLLECTED,
    "how": "shipped",
    "carrier": "Tarn Freight",
    "parcels": "2",
    "tracking_number": "TF 4417",
    "packed_by": "Nila",
}


@pytest.fixture
def counter(db):
    return factories.someone(db, "Nila Counter", Role.COUNTER)


@pytest.fixture
def ready(db, by) -> Job:
    """A job ready to be handed over, its head with three kinds of parts."""
    job = factories.create_job(db)
    jobs.change_visit(db, by, job.heads[0], {"parts": COUNTED})
    factories.approve(db, by, job, "Orla Finch", "by telephone")
    factories.make_ready(db, by, job)
    return job


def all_back(job: Job) -> list[PartBack]:
    return [PartBack(part.id, part.count) for _, part in collections.received(job)]


@pytest.mark.parametrize(
    ("typed", "read"),
    [
        ("16 valves", {"valves": 16}),
        ("2x rocker shaft", {"rocker shaft": 2}),
        ("4 × bolts\n\n4 bolts", {"bolts": 8}),
        ("cam", {"cam": 1}),
        ("", {}),
        ("10 mm studs", {"mm studs": 10}),
    ],
)
def test_parts_are_read_a_line_each(typed, read):
    assert received_parts.read(typed) == read


TOO_MANY = "\n".join(f"part {number}" for number in range(61))


@pytest.mark.parametrize("typed", ["16", "0 valves", "x" * 201, TOO_MANY])
def test_what_is_no_part_is_refused(typed):
    with pytest.raises(ValueError, match=r"a count and a name|at most"):
        received_parts.read(typed)


def test_parts_are_counted_in_changed_and_logged(db, counter):
    visit = factories.create_visit(db)
    jobs.change_visit(db, counter, visit, {"parts": "16 valves\n1 cam"})
    assert received_parts.in_lines(visit) == "16 valves\n1 cam"
    before = visit.version
    jobs.change_visit(db, counter, visit, {"parts": "1 cam\n15 valves"})
    assert_logged(
        db, visit, counter, "parts counted", parts=["16 valves, 1 cam", "1 cam, 15 valves"]
    )
    assert visit.version > before
    assert visit.parts_in_words == "1 cam, 15 valves"


def test_everything_goes_back_and_the_job_is_collected(db, ready, counter):
    row = collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    assert (ready.state, ready.closed_at) == (JobState.COLLECTED, counter.at)
    assert ready.collection is row
    assert [part["returned"] for part in row.parts] == [8, 8, 16]
    assert "to Orla Finch" in last_entry(db, row).note


def test_a_part_short_wants_a_word_and_the_log_has_it(db, ready, counter):
    valves, *rest = all_back(ready)
    short = [PartBack(valves.part_id, 7), *rest]
    with faults_at("parts-0-word"):
        collections.hand_over(db, counter, ready, COLLECTED, short, [])
    rows = [PartBack(valves.part_id, 7, "one bent, scrapped as agreed"), *rest]
    row = collections.hand_over(db, counter, ready, COLLECTED, rows, [])
    assert "7 of 8 intake valves, one bent" in last_entry(db, row).note


def test_every_part_must_be_answered_for(db, ready, counter):
    with faults_at("parts-1-returned"):
        first, _, last = all_back(ready)
        collections.hand_over(db, counter, ready, COLLECTED, [first, last], [])


def test_shipping_says_who_carries_how_many_and_who_packed(db, ready, counter):
    with faults_at("carrier", "parcels", "packed_by"):
        values = {**COLLECTED, "how": "shipped"}
        collections.hand_over(db, counter, ready, values, all_back(ready), [])
    row = collections.hand_over(db, counter, ready, SHIPPED, all_back(ready), [])
    assert (row.how, row.parcels, ready.state) == (HandedOver.SHIPPED, 2, JobState.SHIPPED)


def test_what_is_not_paid_goes_only_with_a_reason_of_the_office(db, ready, counter):
    step = factories.create_operation(db, ready.heads[0], price="80.00")
    operations.start(db, counter, step)
    operations.sign_off(db, counter, step, {})
    quotes.approve(db, counter, issuing.give_quote(db, counter, ready, {}), "Orla", "telephone")
    assert balances.of_job(db, ready).left > 0
    assert ready.state is JobState.READY
    with faults_at("release_reason"):
        collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    released = {**COLLECTED, "release_reason": "pays monthly"}
    with refused("ask the owner or the counter"):
        machinist = factories.someone(db)
        collections.hand_over(db, machinist, ready, released, all_back(ready), [])
    row = collections.hand_over(db, counter, ready, released, all_back(ready), [])
    assert row.balance > 0
    assert "left to pay: pays monthly" in last_entry(db, row).note


def test_papers_are_those_of_the_job(db, ready, counter):
    with faults_at("papers"):
        collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), ["Some paper"])


def test_only_a_ready_job_is_handed_over_and_once(db, ready, counter):
    collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    with refused("mark it ready before"):
        collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    jobs.move(db, counter, ready, JobState.READY)
    assert ready.collection is None
    collections.hand_over(db, counter, ready, SHIPPED, all_back(ready), [])
    assert [row.how.value for row in ready.collections] == ["collected", "shipped"]


def returned(db, by, past: Job, **warranty) -> Job:
    """A job booked in as a return of a past one."""
    form = booking.BookIn(
        heads=[{"head_id": past.heads[0].head_id}],
        customer_id=past.customer_id,
        returns=past.number,
        warranty={"reason": "seat leaks again", **warranty},
    )
    return booking.book_in(db, by, form)


def test_a_return_is_tied_to_its_job_and_head_and_told_to_no_customer(db, ready, counter):
    collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    job = returned(db, counter, ready)
    db.expire_all()
    assert job.return_of is not None
    assert job.return_of.from_job is ready
    assert [row.job for row in ready.returns] == [job]
    assert {visit.job for visit in heads.history(db, ready.heads[0].head)} == {job, ready}
    warranty.change(db, counter, warranty.get(job), {"borne_by": "the shop"})
    assert_logged(db, job.return_of, counter, "changed", borne_by=["not decided yet", "the shop"])
    for item in (job, ready):
        assert "leaks again" not in repr(customer_view.of(db, item, shows_prices=True))


def test_a_return_wants_a_reason_a_head_and_a_job_that_left(db, ready, counter):
    with refused("has not left the shop"):
        returned(db, counter, ready)
    collections.hand_over(db, counter, ready, COLLECTED, all_back(ready), [])
    with faults_at("warranty-reason"):
        returned(db, counter, ready, reason="")
    other = factories.create_job(db)
    with faults_at("heads"):
        warranty.tie(db, counter, other, ready, {"reason": "leaks", "borne_by": "shared"})


def test_a_job_that_is_no_return_has_none(db, ready):
    with pytest.raises(NotFoundError, match="not a warranty return"):
        warranty.get(ready)


def test_what_the_shop_bears_is_charged_at_nothing_and_said_on_the_papers(db, ready):
    """Free of charge there is no tax either; the price stays as a note. Common practice."""
    owner = factories.someone(db, "Nila Marsh", Role.OWNER)
    collections.hand_over(db, owner, ready, COLLECTED, all_back(ready), [])
    job = returned(db, owner, ready, borne_by="the shop")
    step = factories.create_operation(db, job.heads[0], "seat-cut", price="180")
    quote = issuing.give_quote(db, owner, job, {})
    quotes.approve(db, owner, quote, "Orla", "telephone")
    invoice = issuing.issue_invoice(db, owner, job, [step.id])
    for paper in (quote, invoice):
        assert paper.total == paper.lines[0].price == 0
        with pymupdf.open(stream=paper.pdf) as pdf:
            assert "Warranty: $180.00 borne by us, not charged." in pdf[0].get_text()
    assert present(customer_view.of(db, job, shows_prices=True).balance).left == 0
    # The customer bears it after all: a credit note frees the work to be invoiced at its price.
    warranty.change(db, owner, warranty.get(job), {"borne_by": "the customer"})
    issuing.issue_credit_note(db, owner, invoice, "The customer bears it.")
    assert balances.of_job(db, job).not_approved == (step,)
    quotes.approve(db, owner, issuing.give_quote(db, owner, job, {}), "Orla", "telephone")
    assert issuing.issue_invoice(db, owner, job, [step.id]).lines[0].price == 180
