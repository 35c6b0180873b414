"""Expectations shared by the services' tests: errors at their fields, entries in the log."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import pytest
from sqlalchemy import inspect, select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError, ValidationError
from shopflow.models import Base, Event
from shopflow.services.actor import Actor
from tests.optional import present


@contextmanager
def faults_at(*keys: str) -> Iterator[None]:
    """Expect a validation error at these fields, each with words."""
    with pytest.raises(ValidationError) as caught:
        yield
    faults = caught.value.faults
    assert [fault.key for fault in faults] == list(keys), faults
    assert all(len(fault.message) > 3 for fault in faults)


@contextmanager
def refused(words: str) -> Iterator[None]:
    """Expect a broken rule, with words that hold these."""
    with pytest.raises(RuleError, match=words):
        yield


def log_of(db: Session, row: Base) -> list[Event]:
    """Entries of the log on a record, in order."""
    db.flush()
    query = select(Event).where(
        Event.subject == row.__tablename__,
        Event.subject_id == present(inspect(row).identity)[0],
    )
    return list(db.scalars(query.order_by(Event.id)))


def last_entry(db: Session, row: Base) -> Event:
    """The latest of them."""
    return log_of(db, row)[-1]


def assert_logged(db: Session, row: Base, by: Actor, verb: str, **changes: list[str]) -> None:
    """The latest entry says who did what and when, and these fields from what to what."""
    entry = last_entry(db, row)
    assert (entry.verb, entry.person_id, entry.at) == (verb, by.person_id, by.at)
    assert {name: entry.changes[name] for name in changes} == changes
