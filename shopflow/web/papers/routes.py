"""The papers as PDF."""

from __future__ import annotations

from flask import Blueprint, Response

from shopflow import papers
from shopflow.errors import NotFoundError
from shopflow.services import certificates, documents, jobs
from shopflow.web.db import db
from shopflow.web.folder import store

blueprint = Blueprint("papers", __name__, url_prefix="/papers")


@blueprint.get("/work-order/<number>.pdf")
def work_order(number: str) -> Response:
    """A job's work order as things stand."""
    job = jobs.get(db(), number)
    content = papers.work_order(documents.work_order(db(), job, store()))
    return _pdf(content, f"work-order-{number}")


@blueprint.get("/certificate/<number>/<int:revision>.pdf")
def certificate(number: str, revision: int) -> Response:
    """An issued certificate, byte for byte as issued."""
    found = certificates.get(db(), number, revision)
    return _pdf(found.pdf, f"flow-certificate-{number}-{revision}")


@blueprint.get("/hand-off/<tag>.pdf")
def hand_off(tag: str) -> Response:
    """A head's hand-off sheet."""
    stay = jobs.visit(db(), tag)
    if stay.hand_off is None:
        raise NotFoundError(f"{tag} has no hand-off note yet")
    return _pdf(papers.hand_off(documents.hand_off(db(), stay)), f"hand-off-{tag}")


def _pdf(content: bytes, name: str) -> Response:
    headers = {"Content-Disposition": f'inline; filename="{name}.pdf"'}
    return Response(content, mimetype="application/pdf", headers=headers)
