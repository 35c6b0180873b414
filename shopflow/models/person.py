"""The people with an account, their sign-ins and their attempts at one."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, ForeignKey, Index, String
from sqlalchemy.orm import Mapped, mapped_column, relationship

from shopflow.models.base import Base, Id, Moment, Name, UtcDateTime, Versioned, choice
from shopflow.texts import gettext_noop


class Role(StrEnum):
    """Role of a user in the shop, from which their permissions follow."""

    OWNER = gettext_noop("owner")
    MACHINIST = gettext_noop("machinist")
    COUNTER = gettext_noop("counter")
    READER = gettext_noop("reader")


class User(Versioned, Base):
    """Someone who works in the shop."""

    __tablename__ = "person"
    __table_args__ = (CheckConstraint("login <> ''", name="login_given"),)

    id: Mapped[Id]
    login: Mapped[str] = mapped_column(String(80), unique=True)
    name: Mapped[Name]
    role: Mapped[Role] = mapped_column(choice(Role))
    password_hash: Mapped[str] = mapped_column(String(300))
    active: Mapped[bool] = mapped_column(default=True)
    created_at: Mapped[Moment]

    search_key: Mapped[bool] = mapped_column(default=True)
    """True where the / key goes to the search box (WCAG 2.2, 2.1.4)."""


class LoginSession(Base):
    """One time a person signed in, on one device; the secret in its cookie is not kept."""

    __tablename__ = "sign_in"

    id: Mapped[Id]
    person_id: Mapped[int] = mapped_column(ForeignKey("person.id"), index=True)
    token_sha256: Mapped[str] = mapped_column(String(64), unique=True)
    since: Mapped[Moment]
    address: Mapped[str] = mapped_column(String(45))
    device: Mapped[str] = mapped_column(String(200))
    """Description of the device by its browser."""

    ended_at: Mapped[datetime | None] = mapped_column(UtcDateTime)

    person: Mapped[User] = relationship()

    @property
    def machine(self) -> str:
        """The device without the browser's long name, as "iPad; CPU OS 17_5 like Mac OS X"."""
        _, opened, rest = self.device.partition("(")
        return rest.partition(")")[0] if opened else self.device


class SignInAttempt(Base):
    """One try at a login, kept so that guessing can be slowed down whichever process it meets."""

    __tablename__ = "sign_in_attempt"
    __table_args__ = (Index(None, "login", "at"), Index(None, "address", "at"))

    id: Mapped[Id]
    login: Mapped[str] = mapped_column(String(80))
    address: Mapped[str] = mapped_column(String(45), default="")
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    succeeded: Mapped[bool]
