"""Checks of issued documents: their bytes, results, codes, totals and numbers."""

from __future__ import annotations

import hashlib
from collections.abc import Callable
from decimal import Decimal
from typing import Any

from sqlalchemy import func, select
from sqlalchemy.orm import Session

from shopflow.attached import attached_files
from shopflow.documents import FlowCertificate
from shopflow.documents.invoice import Invoice as InvoicePaper
from shopflow.documents.quote import Quote as QuotePaper
from shopflow.documents.snapshot import from_plain
from shopflow.models import Certificate, Counter, Invoice, Job, LedgerEntry, PurchaseOrder, Quote
from shopflow.services.billing import ledger
from shopflow.services.certificates.recomputation import recompute
from shopflow.services.integrity.finding import Faults, looked_at
from shopflow.tamper_evidence.checking import StatedHead
from shopflow.texts import gettext

MOST_DIFFERENCES = 3
"""Results of one certificate that are named where they do not come out again."""

Issued = type[Certificate] | type[Invoice] | type[Quote]

_NUMBERED: dict[str, tuple[Any, Any]] = {
    "job": (Job.number, None),
    "certificate": (Certificate.number, None),
    "quote": (Quote.number, None),
    "invoice": (Invoice.number, Invoice.kind),
    "credit note": (Invoice.number, Invoice.kind),
    "purchase order": (PurchaseOrder.number, None),
}
"""Number of the records of each series, and the column that tells its series where two share one.
"""


def issued(db: Session, kind: Issued) -> Faults:
    """Check that each document's bytes have the SHA-256 they were issued with."""
    query = select(kind.id, kind.number, kind.sha256, kind.pdf).execution_options(yield_per=50)
    for key, number, sha256, pdf in db.execute(query):
        sound = hashlib.sha256(pdf or b"").hexdigest() == sha256
        name = gettext(
            "{tablename} {number} (row {key})", tablename=kind.__tablename__, number=number, key=key
        )
        yield None if sound else gettext("{name}: its PDF is not the one issued", name=name)


def results(db: Session) -> Faults:
    """Check that each certificate's results come out again from the tests attached to it, and that
    its columns are what it states."""

    def look(row: Certificate) -> str | None:
        content = from_plain(FlowCertificate, row.snapshot)
        stated = (content.number, content.revision, content.verification_code)
        if stated != (row.number, row.revision, row.code):
            return gettext("{title}: its number or code is not the one printed", title=row.title)
        recomputed = recompute(content, attached_files(row.pdf))
        words = "; ".join(recomputed.differing[:MOST_DIFFERENCES])
        if recomputed.agrees:
            return None
        return f"{row.title}: {words or gettext('no result to compare')}"

    return _each(db, Certificate, look)


def totals(db: Session, kind: type[Invoice] | type[Quote]) -> Faults:
    """Check that the totals on record are those printed, and the lines add up to them."""

    def look(row: Any) -> str | None:
        printed: Any = from_plain(InvoicePaper if kind is Invoice else QuotePaper, row.snapshot)
        net = sum((line.price for line in row.lines), Decimal(0))
        pairs = {
            gettext("number"): (row.number, printed.number),
            gettext("total"): (row.total, printed.tax.total),
            gettext("sum of its lines"): (net, printed.tax.net),
            gettext("total printed"): (printed.tax.net + printed.tax.tax, printed.tax.total),
        }
        if kind is Invoice:
            pairs[gettext("tax")] = (row.tax, printed.tax.tax)
        words = [
            gettext(
                "its {what} is {value} on record and {printed} on the document",
                what=what,
                value=value,
                printed=stated,
            )
            for what, (value, stated) in pairs.items()
            if value != stated
        ]
        return f"{row.number}: {'; '.join(words)}" if words else None

    return _each(db, kind, look)


def numbers(db: Session) -> Faults:
    """Check that each series stands at the last number used in it."""
    counters = {
        (row.series, row.year): row.last
        for row in db.execute(select(Counter.series, Counter.year, Counter.last))
    }
    used = {
        (series, year): last
        for series in _NUMBERED
        for year, last in _last_used(db, series).items()
    }
    if entry := db.scalar(select(func.max(LedgerEntry.number))):
        # Its series runs through all years.
        used[ledger.SERIES, 0] = entry
    for series, year in sorted(counters.keys() | used.keys()):
        at, last = counters.get((series, year), 0), used.get((series, year), 0)
        yield (
            None
            if at == last
            else gettext(
                "series {series} {year}: stands at {last}, used to {last_2}",
                series=series,
                year=year,
                last=at,
                last_2=last,
            )
        )


def printed_heads(db: Session) -> list[StatedHead]:
    """Heads of the record log that certificates state."""
    query = select(Certificate.id, Certificate.number, Certificate.snapshot)
    return [
        StatedHead(
            stated["size"],
            stated["root"],
            gettext("certificate {number} (row {key})", number=number, key=key),
        )
        for key, number, snapshot in db.execute(query.order_by(Certificate.id))
        if (stated := snapshot.get("record_log"))
    ]


def _last_used(db: Session, series: str) -> dict[int, int]:
    number, kind = _NUMBERED[series]
    query = select(number) if kind is None else select(number).where(kind == series)
    last: dict[int, int] = {}
    for text in db.scalars(query):
        # As "2026-0041" or "FC-2026-0041"; others, as of practice, have no year.
        year, _, count = text.rpartition("-")
        year = year.rpartition("-")[2]
        if year.isdecimal() and count.isdecimal():
            last[int(year)] = max(last.get(int(year), 0), int(count))
    return last


def _each(db: Session, kind: Any, look: Callable[[Any], str | None]) -> Faults:
    """Look at each row of a table by itself, so that a damaged one stops nothing."""
    for key in db.scalars(select(kind.id).order_by(kind.id)).all():
        name = gettext("{table}, row {key}", table=kind.__tablename__, key=key)
        yield looked_at(name, lambda key=key: look(db.get(kind, key)))  # type: ignore[misc]
