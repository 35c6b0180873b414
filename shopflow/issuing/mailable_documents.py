"""Papers that can be sent by e-mail, each found by its kind and key."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import UTC, datetime

from sqlalchemy.orm import Session

from shopflow import papers
from shopflow.errors import NotFoundError
from shopflow.files import FileStore
from shopflow.issuing import drawn
from shopflow.issuing.signature import Sign
from shopflow.models import (
    Certificate,
    Collection,
    Customer,
    Invoice,
    InvoiceKind,
    Job,
    Payment,
    PurchaseOrder,
    Quote,
    Visit,
)
from shopflow.services.billing import payment_receipts, statements
from shopflow.services.counter import collection_receipts, inspection_reports, work_orders
from shopflow.services.messaging.enclosure import Enclosure
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.parts import order_papers
from shopflow.services.springs import sheets as spring_sheets
from shopflow.texts import gettext, lazy

Finder = Callable[[Session, FileStore, int], Enclosure]
Drawer = Callable[[Session, FileStore, int, Sign | None], Enclosure]


def find(db: Session, store: FileStore, kind: str, key: int, sign: Sign | None = None) -> Enclosure:
    """The paper of a kind with a key; signed now where it is not stored. Raises NotFoundError."""
    if kind in DRAWN:
        return DRAWN[kind](db, store, key, sign)
    if kind not in KINDS:
        raise NotFoundError(gettext("this kind of document cannot be sent"))
    return KINDS[kind](db, store, key)


def _titled(db: Session, job: Job, title: str, name: str, pdf: Callable[[], bytes]) -> Enclosure:
    """A document under its title, a text marked `lazy`, in the language of its customer."""
    with spoken_for(db, job.customer):
        return Enclosure(job, str(title), name, pdf)


def _certificate(db: Session, store: FileStore, key: int) -> Enclosure:
    """An issued certificate, byte for byte as issued."""
    row = db.get(Certificate, key)
    if row is None:
        raise NotFoundError(gettext("this certificate does not exist"))
    name = f"flow-certificate-{row.number}-{row.revision}.pdf"
    return _titled(
        db, row.job, lazy("Flow certificate {title}", title=row.title), name, lambda: row.pdf
    )


def _hand_off(db: Session, store: FileStore, key: int, sign: Sign | None) -> Enclosure:
    """A head's hand-off sheet as it stands."""
    visit = db.get(Visit, key)
    if visit is None or visit.hand_off is None:
        raise NotFoundError(gettext("this hand-off note does not exist"))

    def pdf() -> bytes:
        return drawn.hand_off(db, [visit], sign)

    return _titled(
        db,
        visit.job,
        lazy("Hand-off sheet of {head}", head=visit.tag),
        f"hand-off-{visit.tag}.pdf",
        pdf,
    )


def _springs(db: Session, store: FileStore, key: int) -> Enclosure:
    """A head's spring and shim list as it stands."""
    visit = db.get(Visit, key)
    if visit is None:
        raise NotFoundError(gettext("this head does not exist"))

    def pdf() -> bytes:
        return papers.spring_list(spring_sheets.spring_list(db, visit, datetime.now(UTC)))

    title = lazy("Spring and shim list of {head}", head=visit.tag)
    return _titled(db, visit.job, title, f"springs-{visit.tag}.pdf", pdf)


def _work_order(db: Session, store: FileStore, key: int) -> Enclosure:
    """A job's work order as it stands."""
    job = db.get(Job, key)
    if job is None:
        raise NotFoundError(gettext("this job does not exist"))

    def pdf() -> bytes:
        return papers.work_order(work_orders.work_order(db, job, store))

    return _titled(
        db,
        job,
        lazy("Work order of job {job}", job=job.number),
        f"work-order-{job.number}.pdf",
        pdf,
    )


def _inspection(db: Session, store: FileStore, key: int, sign: Sign | None) -> Enclosure:
    """A job's inspection report as it stands."""
    job = db.get(Job, key)
    if job is None:
        raise NotFoundError(gettext("this job does not exist"))
    content = inspection_reports.inspection_report(db, job, store)

    def pdf() -> bytes:
        return drawn.inspection_report(db, content, sign)

    title = lazy("Inspection report of job {job}", job=job.number)
    return _titled(db, job, title, f"inspection-report-{job.number}.pdf", pdf)


def _quote(db: Session, store: FileStore, key: int) -> Enclosure:
    """A quote, byte for byte as given."""
    row = db.get(Quote, key)
    if row is None:
        raise NotFoundError(gettext("this quote does not exist"))
    name = f"quote-{row.number}-{row.revision}.pdf"
    return _titled(db, row.job, lazy("Quote {title}", title=row.title), name, lambda: row.pdf)


def _invoice(db: Session, store: FileStore, key: int) -> Enclosure:
    """An invoice or credit note, byte for byte as issued."""
    row = db.get(Invoice, key)
    if row is None:
        raise NotFoundError(gettext("this invoice does not exist"))
    is_note = row.kind is InvoiceKind.CREDIT_NOTE
    title = (
        lazy("Credit note {number}", number=row.number)
        if is_note
        else lazy("Invoice {number}", number=row.number)
    )
    return _titled(db, row.job, title, f"{row.number}.pdf", lambda: row.pdf)


def _collection(db: Session, store: FileStore, key: int) -> Enclosure:
    """The receipt of a job's parts, as they left the shop."""
    row = db.get(Collection, key)
    if row is None or row.taken_back_at is not None:
        raise NotFoundError(gettext("this receipt does not exist"))
    content, number = collection_receipts.collection(db, row), row.job.number

    def pdf() -> bytes:
        return papers.collection(content)

    return _titled(
        db,
        row.job,
        lazy("{document} of job {job}", document=content.title, job=number),
        f"collection-{number}.pdf",
        pdf,
    )


def _receipt(db: Session, store: FileStore, key: int) -> Enclosure:
    """The receipt of a payment."""
    row = db.get(Payment, key)
    if row is None:
        raise NotFoundError(gettext("this payment does not exist"))

    content = payment_receipts.receipt(db, row)
    return _titled(
        db,
        row.job,
        lazy("{document} of job {job}", document=content.title, job=row.job.number),
        f"receipt-{row.job.number}-{row.id}.pdf",
        lambda: papers.receipt(content),
    )


def _purchase_order(db: Session, store: FileStore, key: int) -> Enclosure:
    """A purchase order that was placed."""
    row = db.get(PurchaseOrder, key)
    if row is None or not row.is_placed:
        raise NotFoundError(gettext("this order does not exist, or is not placed"))
    content = order_papers.purchase_order(db, row, datetime.now(UTC))
    return Enclosure(
        None,
        gettext("Purchase order {number}", number=row.number),
        f"purchase-order-{row.number}.pdf",
        lambda: papers.purchase_order(content),
        supplier=row.supplier,
    )


def _statement(db: Session, store: FileStore, key: int) -> Enclosure:
    """The statement of a customer's account as it stands."""
    customer = db.get(Customer, key)
    if customer is None:
        raise NotFoundError(gettext("this customer does not exist"))
    content = statements.statement(db, customer, datetime.now(UTC))
    with spoken_for(db, customer):
        return Enclosure(
            None,
            gettext("Statement of account"),
            f"statement-{key}.pdf",
            lambda: papers.statement(content),
            of_customer=customer,
        )


DRAWN: Mapping[str, Drawer] = {"hand-off": _hand_off, "inspection": _inspection}
"""Documents that are drawn anew each time, and may be relied on without a code to verify."""

KINDS: Mapping[str, Finder] = {
    "certificate": _certificate,
    "collection": _collection,
    "invoice": _invoice,
    "purchase-order": _purchase_order,
    "quote": _quote,
    "receipt": _receipt,
    "springs": _springs,
    "statement": _statement,
    "work-order": _work_order,
}
"""Documents that can be sent, by their name in an address."""
