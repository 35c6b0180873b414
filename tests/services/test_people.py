"""Accounts and signing in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import Event, Person, Role, SignInAttempt
from shopflow.services import people
from shopflow.services.actor import Actor
from shopflow.services.people import TRIES, TRY_WINDOW, SignInError
from tests import factories
from tests.factories import NOW, PASSWORD
from tests.services.expecting import assert_logged, faults_at, last_entry, refused


def test_an_account_signs_in_however_its_login_is_capitalised(db: Session, by: Actor):
    assert not people.any_person(db)
    made = people.create(db, by, " Nila.K ", "Nila Kirchner", "owner", PASSWORD)
    assert people.any_person(db)
    assert people.everyone(db) == [made]
    assert people.get(db, made.id) is made
    assert (made.login, made.role, made.active) == ("nila.k", Role.OWNER, True)
    assert people.sign_in(db, "NILA.k ", PASSWORD, NOW) is made
    assert_logged(db, made, by, "added")


def test_a_password_is_kept_only_as_a_slow_hash(db: Session):
    made = factories.create_person(db)
    assert made.password_hash.startswith("scrypt:")
    assert PASSWORD not in made.password_hash
    other = factories.create_person(db, Role.READER)
    assert other.password_hash != made.password_hash


def test_every_fault_of_an_account_comes_at_once(db: Session, by: Actor):
    with faults_at("login", "name", "role", "password"):
        people.create(db, by, " ", "", "boss", "short")
    with faults_at("password"):
        people.create(db, by, "nila", "Nila", "owner", "x" * 257)


def test_a_login_is_one_persons(db: Session, by: Actor):
    factories.create_person(db, login="nila")
    with faults_at("login"):
        people.create(db, by, "NILA", "Another Nila", "reader", PASSWORD)


def test_nobody_is_not_found(db: Session):
    with pytest.raises(NotFoundError, match="no such person"):
        people.get(db, 99)


@pytest.mark.parametrize("login", ["owner", "nobody", "own\x00er2", ""])
def test_signing_in_does_not_say_which_part_was_wrong(db: Session, login: str):
    factories.create_person(db)
    with pytest.raises(SignInError, match="do not go together"):
        people.sign_in(db, login, "not the password", NOW)


def test_a_closed_account_does_not_sign_in(db: Session, by: Actor):
    factories.create_person(db)
    reader = factories.create_person(db, Role.READER)
    series = reader.sign_in_series
    people.change(db, by, reader, {"active": False})
    assert reader.sign_in_series == series + 1
    with pytest.raises(SignInError, match="do not go together"):
        people.sign_in(db, "reader", PASSWORD, NOW)


def test_guessing_at_a_login_has_to_wait_and_others_need_not(db: Session):
    factories.create_person(db)
    factories.create_person(db, Role.READER)
    for second in range(TRIES):
        with pytest.raises(SignInError, match="do not go together"):
            people.sign_in(db, "owner", "wrong", NOW + timedelta(seconds=second))
    with pytest.raises(SignInError, match="wait a quarter of an hour"):
        people.sign_in(db, "OWNER", PASSWORD, NOW + timedelta(minutes=1))
    assert people.sign_in(db, "reader", PASSWORD, NOW + timedelta(minutes=1)).login == "reader"
    later = NOW + TRY_WINDOW + timedelta(seconds=TRIES)
    assert people.sign_in(db, "owner", PASSWORD, later).login == "owner"


def test_one_success_forgives_the_failures_before_it(db: Session):
    factories.create_person(db)
    for _ in range(TRIES - 1):
        with pytest.raises(SignInError):
            people.sign_in(db, "owner", "wrong", NOW)
    people.sign_in(db, "owner", PASSWORD, NOW)
    query = select(func.count()).select_from(SignInAttempt)
    assert db.scalar(query.where(SignInAttempt.succeeded.is_(False))) == 0


def test_a_new_password_ends_the_open_sign_ins_and_stays_out_of_the_log(db: Session, by: Actor):
    made = factories.create_person(db)
    series = made.sign_in_series
    with faults_at("password"):
        people.change_password(db, by, made, "short")
    people.change_password(db, by, made, "another long enough word")
    assert made.sign_in_series > series
    assert people.sign_in(db, "owner", "another long enough word", NOW) is made
    with pytest.raises(SignInError):
        people.sign_in(db, "owner", PASSWORD, NOW)
    logged = " ".join(str(changes) for changes in db.scalars(select(Event.changes)))
    assert "scrypt" not in logged
    assert "long enough" not in logged


def test_signing_out_everywhere_raises_the_series(db: Session, by: Actor):
    made = factories.someone(db).person
    assert made is not None
    people.sign_out_everywhere(db, by, made)
    assert made.sign_in_series == 2
    assert last_entry(db, made).verb == "signed out everywhere"


def owner(db: Session, name: str) -> Person:
    person = factories.someone(db, name, Role.OWNER).person
    assert person is not None
    return person


@pytest.mark.parametrize("values", [{"active": False}, {"role": "reader"}])
def test_the_last_owner_stays(db: Session, by: Actor, values: dict[str, object]):
    last = owner(db, "Nila Kirchner")
    factories.someone(db)
    with refused("at least one owner"):
        people.change(db, by, last, values)


def test_an_owner_may_go_while_another_can_sign_in(db: Session, by: Actor):
    first, second = owner(db, "Nila Kirchner"), owner(db, "Odo Farrant")
    people.change(db, by, first, {"role": "machinist"})
    assert_logged(db, first, by, "changed", role=["owner", "machinist"])
    with refused("at least one owner"):
        people.change(db, by, second, {"active": False})


def test_a_change_is_checked(db: Session, by: Actor):
    with faults_at("name", "role"):
        people.change(db, by, owner(db, "Nila Kirchner"), {"name": "", "role": "boss"})
