"""Withdrawing, restoring and correcting flow tests that are on record.

A correction stores a test again and withdraws the one it replaces, so a certificate still rests
on the very test that it states.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from decimal import Decimal
from typing import Any

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.errors import RuleError
from shopflow.models import BenchSession, Certificate, CertificateSession, Operation, Visit
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.bench import sessions
from shopflow.services.certificates import drafts
from shopflow.testfile import SessionDocument
from shopflow.texts import gettext

REASON: fields.Specification = {"reason": fields.text(required=True, most=sessions.LONGEST_LINE)}

_OF_TEST = (
    select(Certificate)
    .join(Certificate.sessions)
    .order_by(Certificate.number, Certificate.revision)
)


def withdraw(db: Session, by: Actor, row: BenchSession, reason: str) -> None:
    """Withdraw a test: it stays on record and counts nowhere.

    Drafts of certificates lose it and must be checked again. Raises ValidationError at `reason`,
    RuleError where it is withdrawn already.
    """
    clean = fields.read(REASON, {"reason": reason})
    _still_counts(row)
    drafts.take_out(db, by, row)
    _mark(db, by, row, clean["reason"], "withdrawn")
    _renew(db, row.job_head)


def restore(db: Session, by: Actor, row: BenchSession) -> None:
    """Let a withdrawn test count again.

    Raises RuleError where it counts, was replaced by a correction, or is on record once more.
    """
    if row.counts:
        raise RuleError(gettext("this test counts already"))
    if row.replaced_by_id is not None:
        raise RuleError(
            gettext("this test was corrected: correct or withdraw the corrected test instead")
        )
    visit = row.job_head
    if any(sessions.same_session(other, sessions.document(row)) for other in visit.sessions):
        raise RuleError(
            gettext(
                "the same test is already on record for {visit}: withdraw that one first",
                visit=visit.tag,
            )
        )
    values = {"withdrawn_at": None, "withdrawn_by_id": None, "withdrawal_reason": ""}
    audit_log.change(db, by, row, values, job=visit.job, verb="restored")
    _renew(db, visit)


def correct(
    db: Session,
    by: Actor,
    row: BenchSession,
    document: SessionDocument,
    after_operation: Operation | None,
    reason: str,
    entry_key: str = "",
) -> BenchSession:
    """Store the corrected test in place of this one, which is withdrawn.

    The log says each value that changed, from what to what. Drafts of certificates take the
    corrected test and must be checked again. Raises ValidationError, at `reason` too, and RuleError
    where the test does not count or nothing was changed.
    """
    clean = fields.read(REASON, {"reason": reason})
    _still_counts(row)
    changes = _changes(row, document, after_operation)
    if not changes:
        raise RuleError(
            gettext("nothing was changed: change what is wrong, then save the correction")
        )
    visit = row.job_head
    _mark(db, by, row, clean["reason"], "corrected")
    new = sessions.add(db, by, visit, document, after_operation, entry_key)
    # Who took the readings, and when, is as it was.
    new.entered_at, new.entered_by_id = row.entered_at, row.entered_by_id
    db.flush()
    row.replaced_by = new
    audit_log.record(db, by, new, "corrected", job=visit.job, note=clean["reason"], changes=changes)
    drafts.replace_test(db, by, row, new)
    _renew(db, visit)
    return new


def current(row: BenchSession) -> BenchSession:
    """The test that replaces this one after all corrections; itself where none was."""
    while row.replaced_by is not None:
        row = row.replaced_by
    return row


def certificates_on(db: Session, row: BenchSession) -> list[Certificate]:
    """The issued certificates that state this very test."""
    return list(db.scalars(_OF_TEST.where(CertificateSession.session_id == row.id)))


def earlier_versions(db: Session, row: BenchSession) -> list[BenchSession]:
    """The versions that corrections replaced by this test, the last one first."""
    query = select(BenchSession)
    versions: list[BenchSession] = []
    while earlier := db.scalar(query.where(BenchSession.replaced_by_id == row.id)):
        versions.append(earlier)
        row = earlier
    return versions


def _still_counts(row: BenchSession) -> None:
    if not row.counts:
        raise RuleError(gettext("this test was withdrawn: restore it first"))


def _mark(db: Session, by: Actor, row: BenchSession, reason: str, verb: str) -> None:
    values = {
        "withdrawn_at": by.at,
        "withdrawn_by_id": by.person_id,
        "withdrawal_reason": reason,
    }
    audit_log.change(db, by, row, values, job=row.job_head.job, verb=verb)
    db.flush()
    # Read anew without it.
    db.expire(row.job_head, ["sessions", "withdrawn_sessions"])


def _renew(db: Session, visit: Visit) -> None:
    db.flush()
    db.expire(visit, ["sessions", "withdrawn_sessions"])
    sessions.renew_summaries(db, visit)
    db.flush()


def _changes(
    row: BenchSession, document: SessionDocument, after: Operation | None
) -> dict[str, list[str]]:
    """Each value that a correction changes, from what to what, in words."""
    before = sessions.document(row)
    changes = {
        name: [audit_log.in_words(old), audit_log.in_words(new)]
        for name, old, new in _values(before, document)
        if old != new
    }
    if row.after_operation is not after:
        steps = [step.kind.name if step else "" for step in (row.after_operation, after)]
        changes["after_step"] = steps
    return changes


def _values(before: SessionDocument, after: SessionDocument) -> Iterator[tuple[str, Any, Any]]:
    for name in sessions.COLUMNS:
        yield name, getattr(before, name), getattr(after, name)
    yield "measured_at", before.measured_at, after.measured_at
    yield "reading_kind", before.reading_kind, after.reading_kind
    old, new = _by_lift(before), _by_lift(after)
    for lift in sorted(old.keys() | new.keys()):
        yield gettext("readings at lift {lift}", lift=lift), old.get(lift, ""), new.get(lift, "")


def _by_lift(document: SessionDocument) -> dict[Decimal, str]:
    """The runs at each lift as typed."""
    none = tuple((None,) * len(runs) for runs in document.flows)
    pressures: Sequence[Sequence[Decimal | None]] = document.pressures or none
    return {
        lift: ", ".join(
            f"{flow}" if across is None else f"{flow} @ {across}"
            for flow, across in zip(runs, at, strict=True)
        )
        for lift, runs, at in zip(document.lifts, document.flows, pressures, strict=True)
    }
