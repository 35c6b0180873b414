"""Hashing a password takes long, and nobody waits for it: others can write meanwhile."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from typing import Any

import pytest

from shopflow.models import Role
from shopflow.services.accounts import users
from tests.factories import PASSWORD


@pytest.fixture
def hashed(monkeypatch: pytest.MonkeyPatch, database_url: str) -> list[str]:
    """Every hashing done, each while another connection could write at once."""
    done: list[str] = []

    def watched(name: str) -> Callable[..., Any]:
        hashing = getattr(users, name)

        def hash_while_someone_writes(*arguments: Any, **options: Any) -> Any:
            other = sqlite3.connect(database_url.removeprefix("sqlite:///"), timeout=0)
            other.execute("BEGIN IMMEDIATE")
            other.rollback()
            other.close()
            done.append(name)
            return hashing(*arguments, **options)

        return hash_while_someone_writes

    for name in ("check_password_hash", "generate_password_hash"):
        monkeypatch.setattr(users, name, watched(name))
    return done


def test_signing_in_holds_no_lock(stranger, hashed: list[str]):
    for password, status in (("not the password", 422), (PASSWORD, 200)):
        stranger.submit("/sign-in", {"login": "owner", "password": password}, status=status)
    assert hashed == ["check_password_hash"] * 2


def test_opening_an_account_and_changing_passwords_hold_no_lock(client, hashed: list[str], db):
    new = "another long enough word"
    values = {"login": "late", "name": "Late Comer", "role": "reader", "password": new}
    client.submit("/people/new", values)
    late = next(user for user in users.list_all(db) if user.login == "late")
    client.submit(f"/people/{late.id}", {"password": new}, action=f"/people/{late.id}/password")
    client.submit("/me", {"current": PASSWORD, "password": new, "again": new})
    assert hashed.count("generate_password_hash") == 3
    assert next(item for item in users.list_all(db) if item.role is Role.OWNER)
