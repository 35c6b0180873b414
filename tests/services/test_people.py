"""Accounts and signing in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import Event, Person, Role
from shopflow.services import attempts, people, sign_ins
from shopflow.services.actor import Actor
from shopflow.services.attempts import TRIES, WINDOW
from shopflow.services.people import SignInError
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
    with pytest.raises(NotFoundError, match="this person does not exist"):
        people.get(db, 99)


@pytest.mark.parametrize("login", ["owner", "nobody", "own\x00er2", ""])
def test_signing_in_does_not_say_which_part_was_wrong(db: Session, login: str):
    factories.create_person(db)
    with pytest.raises(SignInError, match="Wrong user name or password"):
        people.sign_in(db, login, "not the password", NOW)


def test_a_closed_account_does_not_sign_in(db: Session, by: Actor):
    factories.create_person(db)
    reader = factories.create_person(db, Role.READER)
    _, token = sign_ins.begin(db, reader, NOW, "", "")
    people.change(db, by, reader, {"active": False})
    assert sign_ins.standing(db, token, NOW) is None
    with pytest.raises(SignInError, match="Wrong user name or password"):
        people.sign_in(db, "reader", PASSWORD, NOW)


def test_guessing_at_a_login_has_to_wait_and_others_need_not(db: Session):
    factories.create_person(db)
    factories.create_person(db, Role.READER)
    for second in range(TRIES):
        with pytest.raises(SignInError, match="Wrong user name or password"):
            people.sign_in(db, "owner", "wrong", NOW + timedelta(seconds=second))
    with pytest.raises(SignInError, match="Wait 15 minutes"):
        people.sign_in(db, "OWNER", PASSWORD, NOW + timedelta(minutes=1))
    assert people.sign_in(db, "reader", PASSWORD, NOW + timedelta(minutes=1)).login == "reader"
    later = NOW + WINDOW + timedelta(seconds=TRIES)
    assert people.sign_in(db, "owner", PASSWORD, later).login == "owner"


def test_one_success_forgives_the_failures_before_it_but_they_stay_on_file(db: Session):
    factories.create_person(db)
    for _ in range(2):
        for _ in range(TRIES - 1):
            with pytest.raises(SignInError, match="Wrong user name or password"):
                people.sign_in(db, "owner", "wrong", NOW)
        people.sign_in(db, "owner", PASSWORD, NOW)
    assert len([one for one in attempts.recent(db, "owner", 99) if not one.succeeded]) == 2 * (
        TRIES - 1
    )


def test_a_new_password_ends_the_open_sign_ins_and_stays_out_of_the_log(db: Session, by: Actor):
    made = factories.create_person(db)
    _, token = sign_ins.begin(db, made, NOW, "", "")
    with faults_at("password"):
        people.change_password(db, by, made, "short")
    assert sign_ins.standing(db, token, NOW) is not None
    people.change_password(db, by, made, "another long enough word")
    assert sign_ins.standing(db, token, NOW) is None
    assert people.sign_in(db, "owner", "another long enough word", NOW) is made
    with pytest.raises(SignInError):
        people.sign_in(db, "owner", PASSWORD, NOW)
    logged = " ".join(str(changes) for changes in db.scalars(select(Event.changes)))
    assert "scrypt" not in logged
    assert "long enough" not in logged


def test_signing_out_everywhere_ends_every_sign_in(db: Session, by: Actor):
    made = factories.someone(db).person
    assert made is not None
    tokens = [sign_ins.begin(db, made, NOW, "", "")[1] for _ in range(2)]
    sign_ins.end_all(db, by, made)
    assert [sign_ins.standing(db, token, NOW) for token in tokens] == [None, None]
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
