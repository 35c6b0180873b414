"""Contents of a customer's page: this job's, as the shop chose."""

from __future__ import annotations

import dataclasses
from decimal import Decimal

import pytest

from shopflow.files import FileStore
from shopflow.models import JobState
from shopflow.models.customer_link import HIDDEN, NO_CURVE
from shopflow.services.bench import sessions
from shopflow.services.billing import payments
from shopflow.services.counter import customer_view
from shopflow.services.registry import attachments
from shopflow.services.registry.attachments import Upload
from tests import factories, photos
from tests.factories import (
    BY,
    approve,
    create_job,
    create_operation,
    create_session,
    create_shop,
    create_visit,
    someone,
)
from tests.optional import present

SECRET = "not for the customer"


def test_every_state_of_a_job_has_its_words():
    assert set(customer_view.STANDS) == set(JobState)


def test_notes_conditions_and_instructions_are_not_in_it(db):
    job = create_job(db, notes=SECRET)
    visit = job.heads[0]
    visit.condition = visit.head.notes = job.customer.notes = SECRET
    create_operation(db, visit, instructions=SECRET)
    view = customer_view.of(db, job, shows_prices=False)
    assert SECRET not in repr(view)
    assert view.balance is None
    assert (view.heads[0].done, view.heads[0].steps) == (0, 1)


def test_where_the_money_stands_is_in_it_where_that_was_ticked(db):
    """120.50 and 8.25 % of it, 9.94, are 130.44; 50 and 30 of that came in."""
    create_shop(db, tax_rate_percent="8.25")
    visit = create_visit(db)
    create_operation(db, visit, price="120.50")
    approve(db, BY, visit.job)
    payments.record(db, BY, visit.job, {"amount": "50", "method": "cash", "is_deposit": True})
    payments.record(db, BY, visit.job, {"amount": "30", "method": "card"})
    balance = present(customer_view.of(db, visit.job, shows_prices=True).balance)
    assert (balance.approved.net, balance.received, balance.left) == (
        Decimal("120.50"), Decimal(80), Decimal("50.44"),
    )  # fmt: skip


def test_only_photos_and_documents_the_shop_chose_are_in_it(db, tmp_path):
    store, visit = FileStore(tmp_path), create_visit(db)

    def add(name: str, content: bytes, shown: bool) -> None:
        values = {"caption": name, "shown_to_customer": shown}
        attachments.add(db, BY, store, visit.job, visit, [Upload(name, content)], values)

    add("shown.jpg", photos.jpeg(), True)
    add("kept back.jpg", photos.jpeg(80, 80), False)
    add("shown.txt", b"words", True)
    add("kept back.txt", b"other words", False)
    view = customer_view.of(db, visit.job, shows_prices=False)
    assert [row.caption for row in view.photos] == ["shown.jpg"]
    assert [row.caption for row in view.documents] == ["shown.txt"]
    attachments.take_off(db, BY, view.photos[0])
    db.flush()
    assert customer_view.of(db, visit.job, shows_prices=False).photos == ()


def test_a_certificate_is_shown_as_the_link_says(db):
    visit, authority = create_visit(db), someone(db)
    row = factories.issue_certificate(db, authority, [create_session(db, visit)])
    db.expire(visit.job)

    def seen(held_back):
        view = customer_view.of(db, visit.job, shows_prices=False, held_back=held_back)
        return [bool(certificate.sessions) for certificate in view.certificates]

    assert seen({}) == seen({"FC-1999-0001": HIDDEN}) == [True]
    assert seen({row.number: NO_CURVE}) == [False]
    assert seen({row.number: HIDDEN}) == []


def test_the_curves_are_those_the_newest_certificate_froze(db):
    visit, authority = create_visit(db), someone(db)
    session = create_session(db, visit)
    create_session(db, visit)  # uncertified: not shown
    first = factories.issue_certificate(db, authority, [session])
    db.expire(visit.job)
    second = factories.issue_certificate(
        db, authority, [session], replaces=first, reason="a typing error"
    )
    db.expire(visit.job)
    (shown,) = customer_view.of(db, visit.job, shows_prices=False).certificates
    assert shown.row is second
    assert len(shown.sessions) == 1
    before = shown.sessions[0].points
    sessions.exclude(db, BY, session.lifts[0].readings[0], "the hose leaked")
    (shown,) = customer_view.of(db, visit.job, shows_prices=False).certificates
    assert shown.sessions[0].points == before


def test_nothing_of_another_job_of_the_same_customer_is_in_it(db):
    job = create_job(db)
    other = create_job(db, job.customer, asked_for=SECRET)
    view = customer_view.of(db, job, shows_prices=True)
    assert other.number not in repr(dataclasses.astuple(view))
    assert SECRET not in repr(view)


@pytest.mark.parametrize("state", JobState)
def test_the_words_for_a_state_end_as_a_sentence(state):
    assert customer_view.STANDS[state].endswith(".")
