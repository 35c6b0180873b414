"""A customer's private link: the job's page, its certificates and the photos shown."""

from __future__ import annotations

from datetime import UTC, datetime

from flask import Blueprint, Response, abort, make_response, render_template
from flask.typing import ResponseReturnValue

from shopflow import issuing
from shopflow.errors import NotFoundError
from shopflow.models import CustomerLink, Invoice, JobFile
from shopflow.services.billing import e_invoices, invoices
from shopflow.services.counter import customer_view, inspection_reports
from shopflow.services.paperwork.language import language_for
from shopflow.services.registry import customer_links
from shopflow.texts import speak
from shopflow.web.auth import current_person
from shopflow.web.counter.customer_view.showing import job_page
from shopflow.web.db import db, keeping
from shopflow.web.folder import store
from shopflow.web.headers import PRIVATE
from shopflow.web.registry.attachments.serving import attachment, full, small
from shopflow.web.signature import sign

blueprint = Blueprint("customer_view", __name__, url_prefix="/c/<token>")


@blueprint.after_request
def keep_private(response: Response) -> Response:
    """Set what keeps a page out of caches, logs of other sites and search engines."""
    response.headers.update(PRIVATE)
    return response


@blueprint.get("")
def page(token: str) -> ResponseReturnValue:
    """The job in plain words, with its certificates, curves and photos."""
    link = _opened(token)
    view = customer_view.of(
        db(), link.job, shows_prices=link.shows_prices, held_back=link.held_back
    )
    answer = job_page(view, token)
    if current_person() is None:
        _count(link)
    return answer


@blueprint.get("/certificate/<number>/<int:revision>.pdf")
def certificate(token: str, number: str, revision: int) -> Response:
    """A certificate of the job, byte for byte as issued."""
    link = _opened(token)
    for row in customer_view.certificates(link.job, link.held_back):
        if (row.number, row.revision) == (number, revision):
            return attachment(row.pdf, f"flow-certificate-{number}-{revision}.pdf")
    abort(_nothing())


@blueprint.get("/inspection-report.pdf")
def inspection_report(token: str) -> Response:
    """The job's inspection report; its prices only where the link shows them."""
    link = _opened(token)
    job = link.job
    if not customer_view.of(db(), job, shows_prices=False).has_inspection:
        abort(_nothing())
    report = inspection_reports.inspection_report(db(), job, store(), prices=link.shows_prices)
    content = issuing.inspection_report(db(), report, sign())
    return attachment(content, f"inspection-report-{job.number}.pdf")


@blueprint.get("/invoice/<number>.pdf")
def invoice(token: str, number: str) -> Response:
    """An invoice or credit note of the job, byte for byte as issued."""
    return attachment(_visible_invoice(token, number).pdf, f"{number}.pdf")


@blueprint.get("/invoice/<number>.xml")
def invoice_xml(token: str, number: str) -> Response:
    """An electronic invoice of the job as EN 16931, as issued."""
    row = _visible_invoice(token, number)
    if not e_invoices.is_in(row):
        abort(_nothing())
    return attachment(e_invoices.xml(row).encode(), f"{number}.xml", "application/xml")


@blueprint.get("/file/<int:file_id>")
def file(token: str, file_id: int) -> Response:
    """A photo or document that the shop shows."""
    return full(_visible_file(token, file_id))


@blueprint.get("/file/<int:file_id>/small")
def thumbnail(token: str, file_id: int) -> Response:
    """The small form of a photo that the shop shows."""
    row = _visible_file(token, file_id)
    return small(row) if row.is_photo else abort(_nothing())


def _opened(token: str) -> CustomerLink:
    """The link, in its customer's language from now on.

    One page for a wrong, an expired and a revoked link, so that none tells more.
    """
    try:
        link = customer_links.opened_by(db(), token, datetime.now(UTC))
    except NotFoundError:
        abort(_nothing())
    speak(language_for(db(), link.job.customer))
    return link


def _visible_file(token: str, file_id: int) -> JobFile:
    view = customer_view.of(db(), _opened(token).job, shows_prices=False)
    for row in (*view.photos, *view.documents):
        if row.id == file_id:
            return row
    abort(_nothing())


def _visible_invoice(token: str, number: str) -> Invoice:
    link = _opened(token)
    rows = invoices.of_job(db(), link.job) if link.shows_prices else []
    for row in rows:
        if row.number == number:
            return row
    abort(_nothing())


def _nothing() -> Response:
    return make_response(render_template("customer_view/nothing.html"), 404)


def _count(link: CustomerLink) -> None:
    with keeping() as writing:
        customer_links.count_opening(writing, link.id, datetime.now(UTC))
