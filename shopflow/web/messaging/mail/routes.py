"""Sending papers and words by e-mail."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.issuing import mailable_documents
from shopflow.models import Job
from shopflow.services.jobs import jobs
from shopflow.services.messaging import outbox, smtp_settings
from shopflow.services.messaging.enclosure import Enclosure
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.registry import customer_links
from shopflow.texts import gettext
from shopflow.web.auth import actor, signed_in
from shopflow.web.context import current_shop
from shopflow.web.db import db
from shopflow.web.folder import seal, store
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.messaging.mail.forms import SendForm
from shopflow.web.signature import sign

blueprint = Blueprint("mail", __name__)


@blueprint.route("/send/<kind>/<int:key>", methods=["GET", "POST"])
def send(kind: str, key: int) -> ResponseReturnValue:
    """Send a paper, told by its kind and key."""
    enclosure = mailable_documents.find(db(), store(), kind, key, sign())
    return _send(enclosure.job, enclosure, enclosure.title)


@blueprint.route("/jobs/<number>/write", methods=["GET", "POST"])
def write(number: str) -> ResponseReturnValue:
    """Write to a job's customer, without a paper."""
    job = jobs.get(db(), number)
    with spoken_for(db(), job.customer):
        subject = gettext("Your job {job}", job=job.number)
    return _send(job, None, subject)


def _send(job: Job, enclosure: Enclosure | None, subject: str) -> ResponseReturnValue:
    with spoken_for(db(), job.customer):
        body = _greeting(job, enclosure)
    form = SendForm.to(job.customer, subject=subject, body=body)
    if form.validate_on_submit():
        with faults_shown(form):
            address = customer_links.make(db(), actor(), job)[1] if form.with_link.data else ""
            row = outbox.queue(
                db(), actor(), job, form.message,
                enclosure=enclosure, link=address, store=store(), seal=seal(),
            )  # fmt: skip
            to = ", ".join(row.recipients)
            flash(
                gettext(
                    "The message to {to} is in the outbox and will be sent automatically.", to=to
                )
            )
            return redirect(url_for("jobs.job", number=job.number, _anchor="messages"))
    ready = smtp_settings.the_mailbox(db()) is not None
    return form_page("mail/send.html", form, job=job, enclosure=enclosure, ready=ready)


def _greeting(job: Job, enclosure: Enclosure | None) -> str:
    """Words to begin with, to be changed."""
    shop = current_shop()
    attached = gettext("Attached: {enclosure}.\n\n", enclosure=enclosure.title) if enclosure else ""
    return gettext(
        "Hello {customer},\n\n{attached}{signed_in}\n{shop}",
        customer=job.customer.name,
        attached=attached,
        signed_in=signed_in().name,
        shop=shop.name if shop else "",
    )
