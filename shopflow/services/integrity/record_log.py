"""Checks of the record log, and of the records against it."""

from __future__ import annotations

from collections.abc import Iterator

from sqlalchemy import select
from sqlalchemy.orm import Session

from shopflow.models import AnchorKind, RecordLogAnchor
from shopflow.services import audit_log, fields
from shopflow.services.actor import Actor
from shopflow.services.integrity.documents import printed_heads
from shopflow.services.integrity.finding import DAMAGE, Faults, Finding, unreadable
from shopflow.services.shop.settings import get_shop
from shopflow.tamper_evidence import checking, take_in
from shopflow.tamper_evidence.checking import RowFault
from shopflow.texts import gettext

MOST_ROWS = 5
"""Rows of a table with the same fault that are named each."""


def log_findings(db: Session) -> Iterator[Finding]:
    """The log against its heads, printed and anchored ones, and the rows against the log."""
    connection = db.connection()
    yield Finding.of(
        gettext("record log is as its heads stated it"),
        _log(db),
        gettext(
            "somebody rewrote the log, or a backup was restored: compare the heads that were "
            "mailed out, and keep this database as it is until you know"
        ),
    )
    since = checking.beginning(connection)
    what = (
        gettext("records are as they were saved")
        if since is None
        else gettext("records are as they were saved, or as they stood on {at}", at=since.at)
    )
    yield Finding.of(
        what,
        _in_words(checking.row_faults(connection)),
        gettext(
            "ask whoever can write to the database; compare the record with a backup and its "
            "documents, correct it in shopflow, then run 'shopflow check --accept REASON'"
        ),
    )


def stamped(db: Session) -> list[RecordLogAnchor]:
    """The heads that an authority put its time on."""
    query = select(RecordLogAnchor).where(RecordLogAnchor.kind == AnchorKind.TIME_STAMP)
    return list(db.scalars(query.order_by(RecordLogAnchor.id)))


def accept(db: Session, by: Actor, reason: str) -> int:
    """Take the records that differ from the log into it as they stand; their number.

    The log and the list of changes say so for ever. Raises ValidationError without a reason.
    """
    clean = fields.read({"reason": fields.text(required=True)}, {"reason": reason})
    count = take_in.accept(db.connection(), by.at)
    note = gettext("{count} rows: {reason}", count=count, reason=clean["reason"])
    audit_log.record(db, by, get_shop(db), "records accepted", note=note)
    return count


def _in_words(faults: Iterator[RowFault | None]) -> Faults:
    """Faults of rows; where many rows of a table share one, the first of them and how many more."""
    groups: dict[tuple[str, str], list[str]] = {}
    for fault in faults:
        if fault is None:
            yield None
        else:
            groups.setdefault((fault.table, fault.words), []).append(fault.key)
    for (table, words), keys in groups.items():
        shown = keys if len(keys) <= MOST_ROWS else keys[:1]
        for key in shown:
            yield gettext("{table}, row {key}: {words}", table=table, key=key, words=words)
        if len(keys) > len(shown):
            yield gettext(
                "{table}, {count} more rows: {words}",
                table=table,
                count=len(keys) - len(shown),
                words=words,
            )


def _log(db: Session) -> Faults:
    connection = db.connection()
    stated = checking.anchored(connection)
    try:
        stated += printed_heads(db)
    except DAMAGE as error:
        yield unreadable(gettext("heads printed on certificates"), error)
    yield from checking.log_faults(connection, stated)
