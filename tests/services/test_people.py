"""Accounts and signing in."""

from __future__ import annotations

from datetime import timedelta

import pytest
from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import NotFoundError
from shopflow.models import Event, Role, User
from shopflow.services.accounts import login_sessions, login_throttle, users
from shopflow.services.accounts.login_throttle import TRIES, WINDOW
from shopflow.services.accounts.users import SignInError
from shopflow.services.actor import Actor
from tests import factories
from tests.factories import NOW, PASSWORD
from tests.services.expecting import assert_logged, faults_at, last_entry, refused


def test_an_account_signs_in_however_its_login_is_capitalised(db: Session, by: Actor):
    assert not users.any_person(db)
    user = users.create(db, by, " Nila.K ", "Nila Kirchner", "owner", PASSWORD)
    assert users.any_person(db)
    assert users.list_all(db) == [user]
    assert users.get(db, user.id) is user
    assert (user.login, user.role, user.active) == ("nila.k", Role.OWNER, True)
    assert users.sign_in(db, "NILA.k ", PASSWORD, NOW) is user
    assert_logged(db, user, by, "added")


def test_a_password_is_kept_only_as_a_slow_hash(db: Session):
    person = factories.create_person(db)
    assert person.password_hash.startswith("scrypt:")
    assert PASSWORD not in person.password_hash
    other = factories.create_person(db, Role.READER)
    assert other.password_hash != person.password_hash


def test_every_fault_of_an_account_comes_at_once(db: Session, by: Actor):
    with faults_at("login", "name", "role", "password"):
        users.create(db, by, " ", "", "boss", "short")
    with faults_at("password"):
        users.create(db, by, "nila", "Nila", "owner", "x" * 257)


def test_a_login_is_one_persons(db: Session, by: Actor):
    factories.create_person(db, login="nila")
    with faults_at("login"):
        users.create(db, by, "NILA", "Another Nila", "reader", PASSWORD)


def test_nobody_is_not_found(db: Session):
    with pytest.raises(NotFoundError, match="this person does not exist"):
        users.get(db, 99)


@pytest.mark.parametrize("login", ["owner", "nobody", "own\x00er2", ""])
def test_signing_in_does_not_say_which_part_was_wrong(db: Session, login: str):
    factories.create_person(db)
    with pytest.raises(SignInError, match="Wrong user name or password"):
        users.sign_in(db, login, "not the password", NOW)


def test_a_closed_account_does_not_sign_in(db: Session, by: Actor):
    factories.create_person(db)
    reader = factories.create_person(db, Role.READER)
    _, token = login_sessions.begin(db, reader, NOW, "", "")
    users.change(db, by, reader, {"active": False})
    assert login_sessions.standing(db, token, NOW) is None
    with pytest.raises(SignInError, match="Wrong user name or password"):
        users.sign_in(db, "reader", PASSWORD, NOW)


def test_guessing_at_a_login_has_to_wait_and_others_need_not(db: Session):
    factories.create_person(db)
    factories.create_person(db, Role.READER)
    for second in range(TRIES):
        with pytest.raises(SignInError, match="Wrong user name or password"):
            users.sign_in(db, "owner", "wrong", NOW + timedelta(seconds=second))
    with pytest.raises(SignInError, match="Wait 15 minutes"):
        users.sign_in(db, "OWNER", PASSWORD, NOW + timedelta(minutes=1))
    assert users.sign_in(db, "reader", PASSWORD, NOW + timedelta(minutes=1)).login == "reader"
    later = NOW + WINDOW + timedelta(seconds=TRIES)
    assert users.sign_in(db, "owner", PASSWORD, later).login == "owner"


def test_one_success_forgives_the_failures_before_it_but_they_stay_on_file(db: Session):
    factories.create_person(db)
    for _ in range(2):
        for _ in range(TRIES - 1):
            with pytest.raises(SignInError, match="Wrong user name or password"):
                users.sign_in(db, "owner", "wrong", NOW)
        users.sign_in(db, "owner", PASSWORD, NOW)
    assert len(
        [item for item in login_throttle.recent(db, "owner", 99) if not item.succeeded]
    ) == 2 * (TRIES - 1)


def test_a_new_password_ends_the_open_sign_ins_and_stays_out_of_the_log(db: Session, by: Actor):
    person = factories.create_person(db)
    _, token = login_sessions.begin(db, person, NOW, "", "")
    with faults_at("password"):
        users.change_password(db, by, person, "short")
    assert login_sessions.standing(db, token, NOW) is not None
    users.change_password(db, by, person, "another long enough word")
    assert login_sessions.standing(db, token, NOW) is None
    assert users.sign_in(db, "owner", "another long enough word", NOW) is person
    with pytest.raises(SignInError):
        users.sign_in(db, "owner", PASSWORD, NOW)
    logged = " ".join(str(changes) for changes in db.scalars(select(Event.changes)))
    assert "scrypt" not in logged
    assert "long enough" not in logged


def test_signing_out_everywhere_ends_every_sign_in(db: Session, by: Actor):
    person = factories.someone(db).person
    assert person is not None
    tokens = [login_sessions.begin(db, person, NOW, "", "")[1] for _ in range(2)]
    login_sessions.end_all(db, by, person)
    assert [login_sessions.standing(db, token, NOW) for token in tokens] == [None, None]
    assert last_entry(db, person).verb == "signed out everywhere"


def owner(db: Session, name: str) -> User:
    person = factories.someone(db, name, Role.OWNER).person
    assert person is not None
    return person


@pytest.mark.parametrize("values", [{"active": False}, {"role": "reader"}])
def test_the_last_owner_stays(db: Session, by: Actor, values: dict[str, object]):
    last = owner(db, "Nila Kirchner")
    factories.someone(db)
    with refused("at least one owner"):
        users.change(db, by, last, values)


def test_an_owner_may_go_while_another_can_sign_in(db: Session, by: Actor):
    first, second = owner(db, "Nila Kirchner"), owner(db, "Odo Farrant")
    users.change(db, by, first, {"role": "machinist"})
    assert_logged(db, first, by, "changed", role=["owner", "machinist"])
    with refused("at least one owner"):
        users.change(db, by, second, {"active": False})


def test_a_change_is_checked(db: Session, by: Actor):
    with faults_at("name", "role"):
        users.change(db, by, owner(db, "Nila Kirchner"), {"name": "", "role": "boss"})
