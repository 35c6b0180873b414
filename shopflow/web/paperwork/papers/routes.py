"""The papers as PDF."""

from __future__ import annotations

from flask import Blueprint, Response, request

from shopflow import issuing, papers
from shopflow.errors import NotFoundError
from shopflow.services.analysis import engine_type_report
from shopflow.services.bench import swirl_tests, velocity_maps
from shopflow.services.billing import (
    e_invoices,
    invoices,
    payment_receipts,
    payments,
    quotes,
    statements,
)
from shopflow.services.certificates import issue
from shopflow.services.counter import (
    collection_receipts,
    collections,
    inspection_reports,
    work_orders,
)
from shopflow.services.engine import swirl_sheets
from shopflow.services.engine import through_cam as sheets_of_cams
from shopflow.services.jobs import jobs
from shopflow.services.paperwork import bench_cards
from shopflow.services.paperwork import labels as labels
from shopflow.services.parts import order_papers, orders
from shopflow.services.registry import customers, engine_types
from shopflow.services.springs import sheets as spring_sheets
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.engine.through_cam.forms import ThroughCamForm
from shopflow.web.folder import store
from shopflow.web.paperwork.papers.pdf import pdf
from shopflow.web.signature import sign

blueprint = Blueprint("papers", __name__, url_prefix="/papers")


@blueprint.get("/work-order/<number>.pdf")
def work_order(number: str) -> Response:
    """A job's work order as things stand."""
    job = jobs.get(db(), number)
    content = papers.work_order(work_orders.work_order(db(), job, store()))
    return pdf(content, f"work-order-{number}")


@blueprint.get("/inspection-report/<number>.pdf")
def inspection_report(number: str) -> Response:
    """A job's inspection report as things stand."""
    report = inspection_reports.inspection_report(db(), jobs.get(db(), number), store())
    content = issuing.inspection_report(db(), report, sign())
    return pdf(content, f"inspection-report-{number}")


@blueprint.get("/certificate/<number>/<int:revision>.pdf")
def certificate(number: str, revision: int) -> Response:
    """An issued certificate, byte for byte as issued."""
    row = issue.get(db(), number, revision)
    return pdf(row.pdf, f"flow-certificate-{number}-{revision}")


@blueprint.get("/hand-off/<tag>.pdf")
def hand_off(tag: str) -> Response:
    """A head's hand-off sheet."""
    visit = jobs.visit(db(), tag)
    return pdf(issuing.hand_off(db(), [visit], sign()), f"hand-off-{tag}")


@blueprint.get("/bench-card/<number>.pdf")
def bench_card(number: str) -> Response:
    """The work order's short form for the flow bench."""
    job = jobs.get(db(), number)
    return pdf(papers.bench_card(bench_cards.bench_card(db(), job)), f"bench-card-{number}")


@blueprint.get("/labels/<number>.pdf")
def tags(number: str) -> Response:
    """The labels of a job's heads; label, start and copies as asked for."""
    job = jobs.get(db(), number)
    start, copies = (request.args.get(name, 1, type=int) for name in ("start", "copies"))
    label = request.args.get("label", "")
    sheet = labels.sheet(db(), job.heads, label=label, start=start, copies=copies)
    return pdf(papers.tags(sheet), f"tags-{number}")


@blueprint.get("/collection/<number>.pdf")
def collection(number: str) -> Response:
    """Receipt for the heads and parts that left the shop on a job."""
    row = collections.the_collection(jobs.get(db(), number))
    return pdf(papers.collection(collection_receipts.collection(db(), row)), f"collection-{number}")


@blueprint.get("/receipt/<int:payment_id>.pdf")
def receipt(payment_id: int) -> Response:
    """The receipt of a payment or deposit."""
    row = payments.get(db(), payment_id)
    return pdf(
        papers.receipt(payment_receipts.receipt(db(), row)), f"receipt-{row.job.number}-{row.id}"
    )


@blueprint.get("/through-cam/<tag>.pdf")
def through_cam(tag: str) -> Response:
    """A head's ports through a cam, chosen as on the page. Raises NotFoundError without a cam."""
    visit = jobs.visit(db(), tag)
    form = ThroughCamForm.from_query(request.args, db(), visit)
    if form.drawn is None:
        raise NotFoundError(gettext("{tag} has no cam to be shown through yet", tag=tag))
    content = sheets_of_cams.through_cam(db(), visit, form.drawn, form.tests, actor().at)
    return pdf(papers.through_cam(content), f"through-cam-{tag}")


@blueprint.get("/engine-type/<int:engine_type_id>.pdf")
def engine_type(engine_type_id: int) -> Response:
    """The report of one engine type as things stand."""
    row = engine_types.get(db(), engine_type_id)
    content = engine_type_report.report(db(), row, actor().at, store())
    return pdf(papers.engine_type_report(content), f"engine-type-{engine_type_id}")


@blueprint.get("/velocity-map/<int:velocity_map_id>.pdf")
def velocity_map(velocity_map_id: int) -> Response:
    """The sheet of a velocity map."""
    row = velocity_maps.get(db(), velocity_map_id)
    content = velocity_maps.sheet(db(), row, actor().at)
    return pdf(papers.velocity_map(content), f"velocity-map-{velocity_map_id}")


@blueprint.get("/swirl/<int:swirl_test_id>.pdf")
def swirl(swirl_test_id: int) -> Response:
    """The sheet of a swirl or tumble test."""
    row = swirl_tests.get(db(), swirl_test_id)
    content = swirl_sheets.sheet(db(), row, actor().at)
    return pdf(papers.swirl_sheet(content), f"swirl-{swirl_test_id}")


@blueprint.get("/statement/<int:customer_id>.pdf")
def statement(customer_id: int) -> Response:
    """The statement of a customer's account as it stands."""
    customer = customers.get(db(), customer_id)
    content = statements.statement(db(), customer, actor().at)
    return pdf(papers.statement(content), f"statement-{customer_id}")


@blueprint.get("/purchase-order/<number>.pdf")
def purchase_order(number: str) -> Response:
    """A purchase order as it stands."""
    content = order_papers.purchase_order(db(), orders.get(db(), number), actor().at)
    return pdf(papers.purchase_order(content), f"purchase-order-{number}")


@blueprint.get("/springs/<tag>.pdf")
def springs(tag: str) -> Response:
    """A head's spring and shim list."""
    visit = jobs.visit(db(), tag)
    content = papers.spring_list(spring_sheets.spring_list(db(), visit, actor().at))
    return pdf(content, f"springs-{tag}")


@blueprint.get("/quote/<number>/<int:revision>.pdf")
def quote(number: str, revision: int) -> Response:
    """A quote, byte for byte as sent."""
    row = quotes.get(db(), number, revision)
    return pdf(row.pdf, f"quote-{number}-{revision}")


@blueprint.get("/invoice/<number>.pdf")
def invoice(number: str) -> Response:
    """An invoice or credit note, byte for byte as issued."""
    row = invoices.get(db(), number)
    return pdf(row.pdf, f"{row.kind.replace(' ', '-')}-{number}")


@blueprint.get("/invoice/<number>.xml")
def invoice_xml(number: str) -> Response:
    """An electronic invoice or credit note as EN 16931, as issued."""
    row = invoices.get(db(), number)
    headers = {"Content-Disposition": f'attachment; filename="{number}.xml"'}
    return Response(e_invoices.xml(row), mimetype="application/xml", headers=headers)
