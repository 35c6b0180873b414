"""The people with an account, and their attempts to sign in."""

from __future__ import annotations

from datetime import datetime
from enum import StrEnum

from sqlalchemy import CheckConstraint, Index, String
from sqlalchemy.orm import Mapped, mapped_column

from shopflow.models.base import Base, Id, Moment, Name, UtcDateTime, Versioned, choice


class Role(StrEnum):
    """What a person does in the shop, which decides what they may do here."""

    OWNER = "owner"
    MACHINIST = "machinist"
    COUNTER = "counter"
    READER = "reader"


class Person(Versioned, Base):
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
    sign_in_series: Mapped[int] = mapped_column(default=1)
    """Raised to end every open sign-in of this person at once."""

    search_key: Mapped[bool] = mapped_column(default=True)
    """Whether the / key goes to the search box (WCAG 2.2, 2.1.4)."""


class SignInAttempt(Base):
    """One try at a login, kept so that guessing can be slowed down whichever process it meets."""

    __tablename__ = "sign_in_attempt"
    __table_args__ = (Index(None, "login", "at"),)

    id: Mapped[Id]
    login: Mapped[str] = mapped_column(String(80))
    at: Mapped[datetime] = mapped_column(UtcDateTime)
    succeeded: Mapped[bool]
