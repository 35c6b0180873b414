"""Keeping a flow test while it is being taken, so that no value typed is ever lost."""

from __future__ import annotations

import secrets
from collections.abc import Mapping
from datetime import timedelta
from typing import Any

from sqlalchemy import bindparam, delete, select
from sqlalchemy.orm import Session, joinedload

from shopflow.errors import ConflictError, NotFoundError, RuleError
from shopflow.models import BenchSession, DiscardedTest, TestDraft, Visit
from shopflow.services import audit_log
from shopflow.services.actor import Actor
from shopflow.services.bench import captures
from shopflow.texts import gettext

MOST_FIELDS = 400
LONGEST_VALUE = 4000
DISCARDED_KEPT = timedelta(days=30)
"""Time for which a discarded test can be restored."""

_STORED = select(BenchSession.id).where(BenchSession.entry_key == bindparam("key"))
_DISCARDED = select(DiscardedTest.id).where(DiscardedTest.key == bindparam("key"))
_HELD = select(TestDraft).where(TestDraft.job_head_id == bindparam("stay")).with_for_update()
"""Asked at every value typed, and so put together once."""


def of_head(db: Session, visit: Visit) -> TestDraft | None:
    """The test of this head that is being taken, or none."""
    return db.scalar(select(TestDraft).where(TestDraft.job_head_id == visit.id))


def all_open(db: Session) -> dict[int, TestDraft]:
    """Every test that is being taken, by the key of its visit."""
    query = select(TestDraft).options(joinedload(TestDraft.person))
    return {row.job_head_id: row for row in db.scalars(query)}


def new_key() -> str:
    """A name for an entry, or for a page that writes to it."""
    return secrets.token_urlsafe(18)


def keep(
    db: Session,
    by: Actor,
    visit: Visit,
    *,
    key: str,
    writer: str,
    seen: int,
    typed: Mapping[str, str],
    captured: int = 0,
) -> TestDraft:
    """Save the fields typed so far, in place of the previous save.

    `seen` is the count the page last heard of, `captured` the last reading of an instrument: those
    posted since go over what is typed. Raises RuleError where this test is a session
    already or is no test's, ConflictError where another page wrote what this one has not seen.
    """
    _refuse_too_much(key, writer, typed)
    row = db.scalar(_HELD, {"stay": visit.id})
    # Asked once the row is held: whoever makes the session takes the row away with it.
    if db.scalar(_STORED, {"key": key}) is not None:
        raise RuleError(gettext("this test is saved already"))
    if row is None:
        if db.scalar(_DISCARDED, {"key": key}) is not None:
            raise RuleError(
                gettext("this test was discarded: restore it on the head's page to go on")
            )
        row = TestDraft(
            job_head_id=visit.id, key=key, writer=writer, count=0, typed={}, begun_at=by.at,
            kept_at=by.at, person_id=by.person_id,
        )  # fmt: skip
        db.add(row)
    elif row.key != key or (row.writer != writer and row.count != seen):
        raise ConflictError(
            gettext("another screen is entering a test of this head; reload to see it")
        )
    else:
        posted = captures.unseen(db, key, captured)
        typed = {**typed, **{name: text for item in posted for name, text in item.cells.items()}}
    row.writer, row.count = writer, row.count + 1
    if row.typed != typed:
        # A page that is only opened sends what it was given: its reader typed nothing.
        row.typed, row.kept_at, row.person_id = dict(typed), by.at, by.person_id
    db.flush()
    return row


def end(db: Session, visit: Visit) -> None:
    """Delete the draft: its test is saved."""
    row = of_head(db, visit)
    if row is not None:
        db.delete(row)
        db.flush()


def discard(db: Session, by: Actor, visit: Visit) -> None:
    """Discard the test being taken; it can be restored for some days. Raises RuleError."""
    row = of_head(db, visit)
    if row is None:
        raise RuleError(gettext("no flow test of this head is being taken"))
    db.execute(delete(DiscardedTest).where(DiscardedTest.discarded_at < by.at - DISCARDED_KEPT))
    discarded = DiscardedTest(discarded_at=by.at, discarded_by_id=by.person_id, **_values(row))
    db.add(discarded)
    db.delete(row)
    audit_log.record(db, by, discarded, "discarded", job=visit.job, note=discarded.words)
    db.expire(visit, ["open_tests", "discarded_tests"])


def get_discarded(db: Session, key: int) -> DiscardedTest:
    """The discarded test with this key. Raises NotFoundError."""
    row = db.get(DiscardedTest, key)
    if row is None:
        raise NotFoundError(gettext("that test is not kept any more"))
    return row


def restore(db: Session, by: Actor, discarded: DiscardedTest) -> TestDraft:
    """Go on with a discarded test. Raises RuleError where another of its head is being taken."""
    visit = discarded.job_head
    if of_head(db, visit) is not None:
        raise RuleError(
            gettext("another test of this head is being taken: save or discard that one first")
        )
    row = TestDraft(writer=new_key(), **_values(discarded))
    audit_log.record(db, by, discarded, "restored", job=visit.job, note=discarded.words)
    db.delete(discarded)
    db.add(row)
    db.flush()
    db.expire(visit, ["open_tests", "discarded_tests"])
    return row


def _values(row: TestDraft | DiscardedTest) -> dict[str, Any]:
    """Fields that an open and a discarded test share."""
    names = ("job_head_id", "key", "count", "typed", "begun_at", "kept_at", "person_id")
    return {name: getattr(row, name) for name in names}


def _refuse_too_much(key: str, writer: str, typed: Mapping[str, str]) -> None:
    if not (0 < len(key) <= 40 and 0 < len(writer) <= 40):
        raise RuleError(gettext("that is no test being taken"))
    too_long = any(len(name) > 100 or len(text) > LONGEST_VALUE for name, text in typed.items())
    if len(typed) > MOST_FIELDS or too_long or any("\x00" in text for text in typed.values()):
        raise RuleError(gettext("more was typed than a test holds"))
