"""Castings: known again, their owners and their life."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.services.actor import Actor
from shopflow.services.counter import booking
from shopflow.services.registry import heads
from tests import factories
from tests.services.expecting import assert_logged, faults_at, last_entry, log_of


def test_a_casting_goes_on_file_under_its_owner(db: Session, by: Actor):
    owner = factories.create_customer(db)
    head = factories.create_head(db, owner=owner, material=" aluminium ")
    assert heads.get(db, head.id) is head
    assert head.material == "aluminium"
    assert heads.owner(head) is owner
    assert head.owners[0].since == by.at
    assert_logged(db, head, by, "added")
    with faults_at("casting_number", "weight"):
        factories.create_head(db, casting_number="9" * 101, weight="12 kg")
    with pytest.raises(NotFoundError, match="this head does not exist"):
        heads.get(db, 4711)


def test_its_identity_is_told_from_what_is_known(db: Session):
    head = factories.create_head(db, casting_number="HC 4417", serial="")
    assert head.identity == "casting HC 4417"
    nothing = factories.create_head(db, casting_number="", serial="")
    assert nothing.identity == "no casting number or serial"


@pytest.mark.parametrize(
    ("casting", "serial", "wanted"),
    [
        ("", "b-28 840", ["first"]),
        ("VT 20 058", "", ["first", "second"]),
        ("vt20058", "", ["first", "second"]),
        ("VT-20-058", "C1", ["second"]),
        ("VT-20-058", "unheard of", []),
        ("VT-20-05", "", []),
        (" ", "- ", []),
        ("\x00", "\x00", []),
    ],
)
def test_it_is_known_again_by_serial_or_casting_number(
    db: Session, casting: str, serial: str, wanted: list[str]
):
    values = {
        "first": factories.create_head(db, casting_number="VT-20-058", serial="B 28840"),
        "second": factories.create_head(db, casting_number="VT 20.058", serial="C/1"),
    }
    assert heads.seen_before(db, casting, serial) == [values[name] for name in wanted]


def test_a_change_is_logged(db: Session, by: Actor):
    head = factories.create_head(db, serial="B 1")
    heads.change(db, by, head, {"serial": "B 2"})
    assert_logged(db, head, by, "changed", serial=["B 1", "B 2"])


def test_owners_follow_one_another(db: Session, by: Actor):
    first, second = factories.create_customer(db), factories.create_customer(db)
    head = factories.create_head(db, owner=first)
    later = Actor(None, by.at + timedelta(days=30))
    heads.pass_to(db, later, head, second)
    assert [(term.customer, term.until) for term in head.owners] == [
        (first, later.at),
        (second, None),
    ]
    assert heads.owner(head) is second
    assert_logged(db, head, later, "changed owner", owner=[first.name, second.name])
    entries = len(log_of(db, head))
    heads.pass_to(db, later, head, second)
    assert len(log_of(db, head)) == entries


def test_its_stays_are_told_latest_first(db: Session, by: Actor):
    visit = factories.create_visit(db)
    later = Actor(None, by.at + timedelta(days=400))
    form = booking.BookIn(
        heads=[{"head_id": visit.head_id, "came_back_because": "seat dropped"}],
        customer_id=factories.create_customer(db).id,
    )
    again = booking.book_in(db, later, form).heads[0]
    assert again.head is visit.head
    assert again.job.number == "2027-0001"
    assert [visit.tag for visit in heads.history(db, visit.head)] == [again.tag, visit.tag]
    assert heads.owner(visit.head) is again.job.customer
    assert last_entry(db, again).note == f"label {again.tag}"
