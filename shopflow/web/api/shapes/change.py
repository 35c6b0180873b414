"""Changes of records."""

from __future__ import annotations

from dataclasses import dataclass

from flask import url_for

from shopflow.services import changes

VIEWS = {
    "cam": ("api.cam", "cam_id"),
    "customer": ("api.customer", "customer_id"),
    "engine type": ("api.engine", "engine_id"),
    "flow test": ("api.session", "session_id"),
    "head": ("api.head", "head_id"),
    "integrity test": ("api.integrity_test", "test_id"),
    "seat profile": ("api.seat_profile", "profile_id"),
    "spring": ("api.spring", "spring_id"),
}
"""Endpoint of each kind that has an address by its key."""


@dataclass(frozen=True)
class Change:
    """One version of a record that was added, changed or removed; `number` is its place in order.

    `address` is null where records of its kind have none of their own, or it was removed.
    """

    number: int
    kind: str
    id: int
    act: str
    address: str | None

    @classmethod
    def of(cls, change: changes.Change) -> Change:
        """A change with the address of its record."""
        return cls(change.number, change.kind, change.key, change.act, _address(change))


@dataclass(frozen=True)
class Changes:
    """Changes after a cursor, in the order of their commits; `since` asks for those that follow.

    Nothing is left out between two cursors. `more` is true where more are there already.
    """

    items: list[Change]
    since: int
    more: bool

    @classmethod
    def of(cls, rows: changes.Changes) -> Changes:
        """Some changes."""
        return cls([Change.of(item) for item in rows.items], rows.cursor, not rows.is_last)


def _address(change: changes.Change) -> str | None:
    if change.act == "removed":
        return None
    if change.kind == "job" and change.name:
        return url_for("api.job", number=change.name[0])
    if change.kind == "certificate" and change.name:
        number, revision = change.name
        return url_for("api.certificate", number=number, revision=int(revision))
    if change.kind in VIEWS:
        endpoint, part = VIEWS[change.kind]
        return url_for(endpoint, **{part: change.key})  # type: ignore[arg-type]
    return None
