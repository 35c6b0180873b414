"""People's accounts and signing in."""

from __future__ import annotations

from collections.abc import Mapping
from datetime import datetime, timedelta
from functools import cache
from typing import Any

from sqlalchemy import delete, func, select
from sqlalchemy.orm import Session
from werkzeug.security import check_password_hash, generate_password_hash

from shopflow.errors import Fault, FaultsError, NotFoundError, RuleError, ShopflowError
from shopflow.models import Person, Role, SignInAttempt
from shopflow.services import events, fields
from shopflow.services.actor import Actor

SHORTEST_PASSWORD = 10
LONGEST_PASSWORD = 256
TRIES = 8
"""Failed tries at one login within `TRY_WINDOW` before it has to wait."""

TRY_WINDOW = timedelta(minutes=15)
HASHING = "scrypt:32768:8:1"

SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "role": fields.one_of(Role),
    "active": fields.flag(),
}


class SignInError(ShopflowError):
    """Signing in failed; the words do not say which part was wrong."""


def any_person(db: Session) -> bool:
    """Whether the shop has an account at all."""
    return db.scalar(select(Person.id).limit(1)) is not None


def everyone(db: Session) -> list[Person]:
    """Every account, by name."""
    return list(db.scalars(select(Person).order_by(Person.name)))


def get(db: Session, person_id: int) -> Person:
    """The person with this key. Raises NotFoundError."""
    found = db.get(Person, person_id)
    if found is None:
        raise NotFoundError("no such person")
    return found


def create(db: Session, by: Actor, login: str, name: str, role: str, password: str) -> Person:
    """Open an account. Raises FaultsError at login, name, role or password."""
    faults: list[Fault] = []
    clean: dict[str, Any] = {}
    try:
        clean = fields.require(
            {**SPECIFICATION, "login": fields.text(required=True, most=80)},
            {"login": login.lower(), "name": name, "role": role},
        )
    except FaultsError as error:
        faults.extend(error.faults)
    if clean and db.scalar(select(Person.id).where(Person.login == clean["login"])):
        faults.append(Fault("login", "someone has this login already"))
    faults.extend(_password_faults(password))
    if faults:
        raise FaultsError(faults)
    person = Person(**clean, password_hash=_hash(password), created_at=by.at)
    db.add(person)
    events.record(db, by, person, "added")
    return person


def change(db: Session, by: Actor, person: Person, values: Mapping[str, Any]) -> Person:
    """Change a person's name, role or whether the account is open.

    Raises FaultsError, and RuleError where the shop would be left without an owner.
    """
    clean = fields.read(SPECIFICATION, values)
    stays_owner = clean.get("role", person.role) == Role.OWNER and clean.get(
        "active", person.active
    )
    if not stays_owner and _is_last_owner(db, person):
        raise RuleError("the shop needs at least one owner who can sign in")
    if not clean.get("active", True):
        person.sign_in_series += 1
    events.change(db, by, person, clean)
    return person


def change_password(db: Session, by: Actor, person: Person, password: str) -> None:
    """Set a new password, ending every open sign-in. Raises FaultsError at password."""
    faults = _password_faults(password)
    if faults:
        raise FaultsError(faults)
    events.change(db, by, person, {"password_hash": _hash(password)}, verb="changed password")
    sign_out_everywhere(db, by, person)


def sign_out_everywhere(db: Session, by: Actor, person: Person) -> None:
    """End every open sign-in of a person."""
    person.sign_in_series += 1
    events.record(db, by, person, "signed out everywhere")


def choose_search_key(db: Session, by: Actor, person: Person, *, on: bool) -> None:
    """Say whether the / key goes to the search box for this person."""
    events.change(db, by, person, {"search_key": on})


def sign_in(db: Session, login: str, password: str, at: datetime) -> Person:
    """The person with this login and password.

    Raises SignInError; after too many failures the login has to wait, right password or not. The
    attempt is added to the database session either way: commit it.
    """
    login = login.replace("\x00", "").strip().lower()[:80]
    failures = db.scalar(
        select(func.count())
        .select_from(SignInAttempt)
        .where(
            SignInAttempt.login == login,
            SignInAttempt.at > at - TRY_WINDOW,
            SignInAttempt.succeeded.is_(False),
        )
    )
    if (failures or 0) >= TRIES:
        raise SignInError("too many failed tries; wait a quarter of an hour and try again")
    person = db.scalar(select(Person).where(Person.login == login, Person.active))
    # Hash even where there is no such login, so that the time taken does not tell.
    stored = person.password_hash if person else _nobody()
    matches = len(password) <= LONGEST_PASSWORD and check_password_hash(stored, password)
    if person is None or not matches:
        db.add(SignInAttempt(login=login, at=at, succeeded=False))
        db.flush()
        raise SignInError("this login and password do not go together")
    db.execute(delete(SignInAttempt).where(SignInAttempt.login == login))
    db.add(SignInAttempt(login=login, at=at, succeeded=True))
    db.flush()
    return person


def _hash(password: str) -> str:
    return generate_password_hash(password, method=HASHING)


@cache
def _nobody() -> str:
    """A hash that no password is asked for, to be compared with where there is no such login."""
    return _hash("")


def _password_faults(password: str) -> list[Fault]:
    if len(password) < SHORTEST_PASSWORD:
        return [Fault("password", f"at least {SHORTEST_PASSWORD} characters")]
    if len(password) > LONGEST_PASSWORD:
        return [Fault("password", f"at most {LONGEST_PASSWORD} characters")]
    return []


def _is_last_owner(db: Session, person: Person) -> bool:
    owners = db.scalars(select(Person.id).where(Person.role == Role.OWNER, Person.active)).all()
    return list(owners) == [person.id]
