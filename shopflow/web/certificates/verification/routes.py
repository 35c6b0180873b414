"""Verifying a certificate: by number and code, by the code to scan, or by the PDF itself."""

from __future__ import annotations

from datetime import UTC, datetime
from typing import Any

from flask import Blueprint, Response, current_app, render_template, request
from flask.typing import ResponseReturnValue
from flask_wtf import FlaskForm

from shopflow import claims, signing
from shopflow.claims import Claim
from shopflow.documents import machine_readable
from shopflow.errors import NotFoundError, RuleError
from shopflow.papers.brief import brief_rows, brief_titles
from shopflow.papers.flow_certificate import tested
from shopflow.services.accounts import verification_throttle
from shopflow.services.certificates import verification
from shopflow.services.certificates.verification import Answer, Standing
from shopflow.services.shop.settings import get_shop
from shopflow.signing import verifier
from shopflow.signing.keys import PublicKey
from shopflow.texts import gettext
from shopflow.web.auth import network_address
from shopflow.web.certificates.verification.forms import CodeForm, FileForm
from shopflow.web.db import db, keeping, no_transaction
from shopflow.web.paperwork.papers.pdf import pdf
from shopflow.web.registry.attachments.serving import attachment
from shopflow.web.signature import folder

MOST_PASSAGES = 30
"""Differing passages that are shown."""

blueprint = Blueprint("verification", __name__, url_prefix="/verify")


@blueprint.route("", methods=["GET", "POST"])
def index() -> ResponseReturnValue:
    """Ask for number and code, and answer."""
    form = CodeForm(formdata=request.form) if request.method == "POST" else CodeForm()
    if form.validate_on_submit():
        return _answer(form, FileForm(formdata=None), form.number.data, form.code.data)
    return _page(form, FileForm(formdata=None), status=422 if form.errors else 200)


@blueprint.get("/<number>")
def scanned(number: str) -> ResponseReturnValue:
    """Show the page that the QR code leads to."""
    code = request.args.get("code", "")
    form = CodeForm(formdata=None, data={"number": number, "code": code})
    if not code:
        return _page(form, FileForm(formdata=None))
    return _answer(form, FileForm(formdata=None), number, code)


@blueprint.get("/<number>/issued.pdf")
def issued(number: str) -> ResponseReturnValue:
    """The certificate as issued, for anyone with its code, to compare with the paper in hand."""
    code = request.args.get("code", "")
    if _too_many():
        return _page(CodeForm(formdata=None), FileForm(formdata=None), status=429)
    paper = verification.issued_pdf(db(), number, code)
    if paper is None:
        _count_wrong()
        raise NotFoundError(gettext("no certificate has this number and code: check both"))
    title, content = paper
    return pdf(content, f"flow-certificate-{title.replace(' ', '-')}")


@blueprint.get("/offline.html")
def offline_page() -> Response:
    """A page that verifies signed documents without a network."""
    content = verifier.page(get_shop(db()).name, _keys_or_refusal())
    return attachment(content.encode(), "verify-document.html", "text/html")


@blueprint.get("/offline.py")
def offline_program() -> Response:
    """A program that verifies signed documents without a network."""
    content = verifier.program(get_shop(db()).name, _keys_or_refusal())
    return attachment(content.encode(), "verify_document.py", "text/x-python")


@blueprint.get("/flow-certificate.schema.json")
def results_schema() -> Response:
    """The JSON Schema of the results inside a certificate's PDF."""
    content = machine_readable.schema().encode()
    return attachment(content, machine_readable.SCHEMA_FILE, "application/schema+json")


@blueprint.post("/file")
def file() -> ResponseReturnValue:
    """Answer for a PDF; it is hashed and forgotten."""
    form, codes = FileForm(), CodeForm(formdata=None)
    if form.validate_on_submit() and form.file.data:
        if _too_many():
            return _page(codes, form, status=429)
        answer = verification.of_pdf(db(), form.file.data.read(), _claim)
        return _answer_page(codes, form, answer)
    form.file.errors = [gettext("choose the PDF")]
    return _page(codes, form, status=422)


def _claim(pdf: bytes) -> Claim:
    """Claims of a stranger's PDF: nobody waits to write while it is read."""
    with no_transaction():
        return claims.read(pdf)


def _answer(codes: FlaskForm, files: FlaskForm, number: str, code: str) -> ResponseReturnValue:
    if _too_many():
        return _page(codes, files, status=429)
    return _answer_page(codes, files, verification.of_code(db(), number, code))


def _answer_page(codes: FlaskForm, files: FlaskForm, answer: Answer) -> ResponseReturnValue:
    if answer.standing is Standing.UNKNOWN:
        _count_wrong()
    return _page(codes, files, answer=answer)


def _count_wrong() -> None:
    with keeping() as writing:
        verification_throttle.count(writing, network_address(), datetime.now(UTC))


def _page(
    codes: FlaskForm, files: FlaskForm, *, answer: Answer | None = None, status: int = 200
) -> ResponseReturnValue:
    page = render_template(
        "verification/index.html",
        codes=codes,
        files=files,
        answer=answer,
        stated=_to_compare(answer),
        wait=status == 429,
        most_passages=MOST_PASSAGES,
        keys=_keys_to_show(),
    )
    return page, status


def _keys_to_show() -> list[PublicKey]:
    """The shop's keys; none, and a line in the log, where they cannot be read."""
    try:
        return signing.public_keys(folder())
    except RuleError as error:
        current_app.logger.warning("%s", error)
        return []


def _keys_or_refusal() -> list[PublicKey]:
    keys = signing.public_keys(folder())
    if not keys:
        raise NotFoundError(gettext("this shop does not sign its documents"))
    return keys


def _to_compare(answer: Answer | None) -> dict[str, Any] | None:
    """Summary of the certificate, where only its bytes could prove that it is as issued."""
    if answer is None or answer.exact or answer.certificate is None:
        return None
    certificate = answer.certificate
    head, moment = certificate.head, certificate.display.moment
    return {
        "facts": {
            gettext("Certificate"): certificate.title,
            gettext("Head"): f"{head.tag}, {head.engine_type}",
            gettext("Casting number"): head.casting_number or gettext("not recorded"),
            gettext("Serial"): head.serial or gettext("not recorded"),
            gettext("Received"): moment(certificate.job.booked_in),
            gettext("Tested"): tested(certificate),
            gettext("Issued"): moment(certificate.issued_at),
            gettext("Verification code"): answer.code,
        },
        "titles": brief_titles(certificate),
        "rows": brief_rows(certificate),
    }


def _too_many() -> bool:
    if not verification_throttle.too_many(db(), network_address(), datetime.now(UTC)):
        return False
    current_app.logger.warning("made %s wait: too many wrong codes", network_address())
    return True
