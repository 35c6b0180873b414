"""Events that addresses can be told of, and the messages that tell of them.

A message names records and where to read them, and nothing of what they say: no names, no amounts.
"""

from __future__ import annotations

import json
from collections.abc import Collection
from dataclasses import dataclass
from datetime import datetime
from typing import Any
from urllib.parse import quote

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import (
    BenchSession,
    Certificate,
    Event,
    Hold,
    Invoice,
    Job,
    Operation,
    Quote,
    RecordLogEntry,
    RecordLogHead,
)
from shopflow.texts import lazy

FLOW_TEST_SAVED = "flow_test.saved"
STEP_SIGNED_OFF = "step.signed_off"
HEAD_STATE_CHANGED = "head.state_changed"
DOCUMENT_ISSUED = "document.issued"
PAYMENT_RECEIVED = "payment.received"
TRIAL = "trial"

TYPES = {
    FLOW_TEST_SAVED: lazy("Flow test saved or withdrawn"),
    STEP_SIGNED_OFF: lazy("Step signed off"),
    HEAD_STATE_CHANGED: lazy("State of a head or its job changed"),
    DOCUMENT_ISSUED: lazy("Certificate, quote or invoice issued"),
    PAYMENT_RECEIVED: lazy("Payment received"),
}
"""Types of events, in words."""

ACTS = {
    ("bench_session", "tested"): (FLOW_TEST_SAVED,),
    ("bench_session", "withdrawn"): (FLOW_TEST_SAVED,),
    # Told once, by the narrower type where both are chosen.
    ("operation", "signed off"): (STEP_SIGNED_OFF, HEAD_STATE_CHANGED),
    ("operation", "started"): (HEAD_STATE_CHANGED,),
    ("operation", "reopened"): (HEAD_STATE_CHANGED,),
    ("operation", "skipped"): (HEAD_STATE_CHANGED,),
    ("wait", "begun"): (HEAD_STATE_CHANGED,),
    ("wait", "over"): (HEAD_STATE_CHANGED,),
    ("job", "booked in"): (HEAD_STATE_CHANGED,),
    ("job", "approved"): (HEAD_STATE_CHANGED,),
    ("job", "moved"): (HEAD_STATE_CHANGED,),
    ("job", "cancelled"): (HEAD_STATE_CHANGED,),
    ("certificate", "issued"): (DOCUMENT_ISSUED,),
    ("quote", "given"): (DOCUMENT_ISSUED,),
    ("invoice", "issued"): (DOCUMENT_ISSUED,),
    ("payment", "received"): (PAYMENT_RECEIVED,),
}
"""Types of each act of the log of changes that is told of."""

KINDS = {
    "bench_session": "flow test",
    "operation": "step",
    "wait": "hold",
}
"""Names by which programs know records, where a table's is another."""

OF_HEADS = {
    "bench_session": BenchSession,
    "operation": Operation,
    "wait": Hold,
}


@dataclass(frozen=True, slots=True)
class Message:
    """An event as an address is told of it."""

    event: str
    body: str


@dataclass(frozen=True, slots=True)
class Messages:
    """Messages after a cursor, and the cursor to ask for those after them with."""

    items: list[Message]
    cursor: int


def since(db: Session, cursor: int, wanted: Collection[str], limit: int) -> Messages:
    """Messages of some types after a cursor, in the order of the commits."""
    # Read first: every entry up to it is committed, and none of them is given later.
    size = db.scalar(select(RecordLogHead.size)) or 0
    entry = RecordLogEntry
    # A row that is logged again, as after a migration, replaces the one before.
    is_new = entry.subject == "event", entry.digest.is_not(None), entry.replaces.is_(None)
    query = select(entry.number, entry.subject_key).where(
        *is_new, entry.number > cursor, entry.number <= size
    )
    rows = db.execute(query.order_by(entry.number).limit(limit)).all()
    reached = rows[-1].number if len(rows) == limit else max(size, cursor)
    keys = [int(row.subject_key) for row in rows]
    events = {row.id: row for row in db.scalars(select(Event).where(Event.id.in_(keys)))}
    items = []
    for key in keys:
        row = events.get(key)
        types = ACTS.get((row.subject, row.verb), ()) if row is not None else ()
        chosen = next((name for name in types if name in wanted), None)
        if row is not None and chosen is not None:
            items.append(Message(chosen, _body(chosen, row.at, _data(db, row))))
    return Messages(items, reached)


def latest(db: Session) -> int:
    """The cursor behind all that happened so far."""
    return db.scalar(select(RecordLogHead.size)) or 0


def trial(at: datetime) -> Message:
    """A message that tells of nothing."""
    return Message(TRIAL, _body(TRIAL, at, {}))


def _body(event: str, at: datetime, data: dict[str, str | int | None]) -> str:
    moment = at.isoformat().replace("+00:00", "Z")
    return json.dumps({"type": event, "timestamp": moment, "data": data})


def _data(db: Session, event: Event) -> dict[str, str | int | None]:
    job = db.get(Job, event.job_id) if event.job_id is not None else None
    return {
        "kind": KINDS.get(event.subject, event.subject),
        "id": event.subject_id,
        "act": event.verb,
        "job": job.number if job is not None else None,
        "tag": _tag(db, event),
        "address": _address(db, event, job),
    }


def _tag(db: Session, event: Event) -> str | None:
    """Label of the head, where the record is of one."""
    model = OF_HEADS.get(event.subject)
    row: Any = db.get(model, event.subject_id) if model is not None else None
    return str(row.job_head.tag) if row is not None else None


def _address(db: Session, event: Event, job: Job | None) -> str | None:
    """Address at which programs read the record, or the job that it is of."""
    key = event.subject_id
    match event.subject:
        case "bench_session":
            return f"/api/1/sessions/{key}"
        case "certificate":
            certificate = db.get(Certificate, key)
            return _of_revision("certificates", certificate) if certificate else None
        case "quote":
            given = db.get(Quote, key)
            return _of_revision("quotes", given) if given else None
        case "invoice":
            invoice = db.get(Invoice, key)
            return f"/api/1/invoices/{quote(invoice.number)}" if invoice else None
    place = "balances" if event.subject == "payment" else "jobs"
    return f"/api/1/{place}/{quote(job.number)}" if job is not None else None


def _of_revision(place: str, row: Certificate | Quote) -> str:
    return f"/api/1/{place}/{quote(row.number)}/{row.revision}"
