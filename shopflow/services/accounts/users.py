"""People's accounts and signing in."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import datetime
from functools import cache
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session
from werkzeug.security import check_password_hash, generate_password_hash

from shopflow.errors import FieldError, NotFoundError, RuleError, ShopflowError, ValidationError
from shopflow.models import Role, User
from shopflow.services import audit_log, fields
from shopflow.services.accounts import login_sessions, login_throttle, passwords
from shopflow.services.actor import Actor
from shopflow.services.shop.settings import shop_or_none
from shopflow.texts import gettext

HASHING = "scrypt:32768:8:1"

SPECIFICATION: fields.Specification = {
    "name": fields.text(required=True),
    "role": fields.one_of(Role),
    "active": fields.flag(),
}


class SignInError(ShopflowError):
    """Signing in failed; the words do not say which part was wrong."""


def any_person(db: Session) -> bool:
    """True where the shop has an account at all."""
    return db.scalar(select(User.id).limit(1)) is not None


def list_all(db: Session) -> list[User]:
    """Every account, by name."""
    return list(db.scalars(select(User).order_by(User.name)))


def get(db: Session, person_id: int) -> User:
    """The person with this key. Raises NotFoundError."""
    user = db.get(User, person_id)
    if user is None:
        raise NotFoundError(gettext("this person does not exist"))
    return user


def _nothing() -> None:
    """Do nothing before a password is hashed: no other process waits for it."""


BeforeHashing = Callable[[], None]
"""Called before a password is hashed, which takes long: the caller ends its transaction there, so
that no one waits for a lock meanwhile. Records are read again afterwards."""


def create(
    db: Session,
    by: Actor,
    login: str,
    name: str,
    role: str,
    password: str,
    before_hashing: BeforeHashing = _nothing,
) -> User:
    """Open an account. Raises ValidationError at login, name, role or password."""
    faults: list[FieldError] = []
    clean: dict[str, Any] = {}
    try:
        clean = fields.require(
            {**SPECIFICATION, "login": fields.text(required=True, most=80)},
            {"login": login.lower(), "name": name, "role": role},
        )
    except ValidationError as error:
        faults.extend(error.faults)
    if clean and db.scalar(select(User.id).where(User.login == clean["login"])):
        faults.append(FieldError("login", gettext("this user name is taken: choose another")))
    faults.extend(passwords.faults_of(password, [login, name, _shop_name(db)]))
    if faults:
        raise ValidationError(faults)
    before_hashing()
    person = User(**clean, password_hash=_hash(password), created_at=by.at)
    db.add(person)
    audit_log.record(db, by, person, "added")
    return person


def change(db: Session, by: Actor, person: User, values: Mapping[str, Any]) -> User:
    """Change a person's name, role or whether the account is open.

    Raises ValidationError, and RuleError where the shop would be left without an owner.
    """
    clean = fields.read(SPECIFICATION, values)
    stays_owner = clean.get("role", person.role) == Role.OWNER and clean.get(
        "active", person.active
    )
    if not stays_owner and _is_last_owner(db, person):
        raise RuleError(gettext("the shop needs at least one owner who can sign in"))
    audit_log.change(db, by, person, clean)
    if not person.active:
        login_sessions.end_all(db, by, person)
    return person


def change_password(
    db: Session,
    by: Actor,
    person: User,
    password: str,
    before_hashing: BeforeHashing = _nothing,
) -> None:
    """Set a new password, ending every open sign-in. Raises ValidationError at password."""
    faults = passwords.faults_of(password, [person.login, person.name, _shop_name(db)])
    if faults:
        raise ValidationError(faults)
    before_hashing()
    hashed = _hash(password)
    audit_log.change(db, by, person, {"password_hash": hashed}, verb="changed password")
    login_sessions.end_all(db, by, person)


def choose_search_key(db: Session, by: Actor, person: User, *, on: bool) -> None:
    """Say whether the / key goes to the search box for this person."""
    audit_log.change(db, by, person, {"search_key": on})


def sign_in(
    db: Session,
    login: str,
    password: str,
    at: datetime,
    address: str = "",
    before_hashing: BeforeHashing = _nothing,
) -> User:
    """Return the user with this login and password, entered from a network address.

    Raises SignInError; after too many failures one has to wait, right password or not. The attempt
    is added to the database session either way: commit it.
    """
    login = login.replace("\x00", "").strip().lower()[:80]
    _refuse_many_tries(db, login, address, at)
    account = select(User).where(User.login == login, User.active)
    stored = db.scalar(account.with_only_columns(User.password_hash))
    before_hashing()
    # Hash even where there is no such login, so that the time taken does not tell.
    matches = len(password) <= passwords.LONGEST and check_password_hash(
        stored or _nobody(), password
    )
    # Tries made meanwhile count too.
    _refuse_many_tries(db, login, address, at)
    person = db.scalar(account.where(User.password_hash == stored)) if matches else None
    login_throttle.note(db, login, address, at, succeeded=person is not None)
    if person is None:
        raise SignInError(gettext("Wrong user name or password"))
    return person


def _refuse_many_tries(db: Session, login: str, address: str, at: datetime) -> None:
    if login_throttle.too_many(db, login, address, at):
        raise SignInError(gettext("Too many failed attempts. Wait 15 minutes and try again"))


def _hash(password: str) -> str:
    return generate_password_hash(password, method=HASHING)


@cache
def _nobody() -> str:
    """A hash that no password is asked for, to be compared with where there is no such login."""
    return _hash("")


def _shop_name(db: Session) -> str:
    shop = shop_or_none(db)
    return shop.name if shop else ""


def _is_last_owner(db: Session, person: User) -> bool:
    owners = db.scalars(select(User.id).where(User.role == Role.OWNER, User.active)).all()
    return list(owners) == [person.id]
