"""Customers on file."""

from __future__ import annotations

from decimal import Decimal

import pytest
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.services.actor import Actor
from shopflow.services.registry import customers
from tests import factories
from tests.services.expecting import assert_logged, faults_at, log_of


def test_a_customer_is_kept_as_given(db: Session, by: Actor):
    customer = customers.create(
        db, by,
        {"name": " Ostrava & Sons ", "is_firm": True, "tax_rate_percent": "0.0",
         "tax_exemption": "resale, R-17", "address": "1 Mill Race\nHallam"},
    )  # fmt: skip
    db.flush()
    db.expire(customer)
    assert customers.get(db, customer.id).name == "Ostrava & Sons"
    assert customer.address.splitlines() == ["1 Mill Race", "Hallam"]
    assert (customer.is_firm, customer.tax_rate_percent, customer.created_at) == (
        True,
        Decimal(0),
        by.at,
    )
    assert_logged(db, customer, by, "added")


def test_faults_come_together_at_their_fields(db: Session, by: Actor):
    with faults_at("name", "tax_rate_percent", "nickname"):
        customers.create(db, by, {"name": "", "tax_rate_percent": "x", "nickname": "Os"})
    with faults_at("name", "notes"):
        customers.create(db, by, {"notes": "nul \x00"})


def test_a_change_is_logged_from_what_to_what_and_no_change_is_not(db: Session, by: Actor):
    customer = factories.create_customer(db, name="Ostrava", phone="555 0100")
    customers.change(db, by, customer, {"name": "Ostrava", "phone": "555 0199"})
    assert_logged(db, customer, by, "changed", phone=["555 0100", "555 0199"])
    entries = len(log_of(db, customer))
    customers.change(db, by, customer, {"phone": " 555 0199 "})
    assert len(log_of(db, customer)) == entries
    with faults_at("name"):
        customers.change(db, by, customer, {"name": " "})


def test_contacts_are_listed_in_the_order_they_were_added(db: Session, by: Actor):
    customer = factories.create_customer(db)
    first = customers.add_contact(db, by, customer, {"name": "Søren Madsby", "role": "yard master"})
    customers.add_contact(db, by, customer, {"name": "Ada Madsby"})
    assert [contact.name for contact in customer.contacts] == ["Søren Madsby", "Ada Madsby"]
    assert_logged(db, first, by, "added")
    with faults_at("name"):
        customers.add_contact(db, by, customer, {"role": "nobody"})


def test_an_unknown_key_is_not_found(db: Session):
    with pytest.raises(NotFoundError, match="this customer does not exist"):
        customers.get(db, 4711)


@pytest.fixture
def names(db: Session) -> Session:
    for name, phone in [
        ("Jürgen Müllenbach", "555-0163"),
        ("Íñigo Delgadillo", "555-0166"),
        ("Małgorzata Nowicka", "555-0183"),
        ("100% Heads_Ltd", "555-0101"),
        ("Zoé Beaudry", "555-0128"),
    ]:
        factories.create_customer(db, name=name, phone=phone)
    return db


FOUND = {
    "Müllenbach": ["Jürgen Müllenbach"],
    "MULLENBACH": ["Jürgen Müllenbach"],
    "jurgen mul": ["Jürgen Müllenbach"],
    "íñigo": ["Íñigo Delgadillo"],
    "inigo": ["Íñigo Delgadillo"],
    "ÍÑIGO": ["Íñigo Delgadillo"],
    "malgorzata": ["Małgorzata Nowicka"],
    "0166": ["Íñigo Delgadillo"],
    "100%": ["100% Heads_Ltd"],
    "s_L": ["100% Heads_Ltd"],
    "%": ["100% Heads_Ltd"],
    "\\": [],
    "nobody of that name": [],
}


def test_a_part_of_a_name_or_phone_finds_with_accents_and_without(
    names: Session, subtests: pytest.Subtests
):
    for text, value in FOUND.items():
        with subtests.test(text):
            assert [customer.name for customer in customers.list_all(names, text)] == value


def test_everyone_is_listed_by_name_whatever_the_first_letters_accent(names: Session):
    assert [customer.name for customer in customers.list_all(names)] == [
        "100% Heads_Ltd", "Íñigo Delgadillo", "Jürgen Müllenbach", "Małgorzata Nowicka",
        "Zoé Beaudry",
    ]  # fmt: skip
