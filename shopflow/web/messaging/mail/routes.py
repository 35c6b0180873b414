"""Sending papers and words by e-mail."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.issuing import mailable_documents
from shopflow.models import Customer, Job, OutgoingMail, Supplier
from shopflow.services.billing import receivables, reminders
from shopflow.services.jobs import jobs
from shopflow.services.messaging import outbox, smtp_settings
from shopflow.services.messaging.enclosure import Enclosure
from shopflow.services.paperwork.language import spoken_for
from shopflow.services.registry import customer_links, customers
from shopflow.texts import gettext
from shopflow.web.auth import actor, signed_in
from shopflow.web.context import current_shop, today
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
    return _send(Letter(enclosure.job, enclosure.addressee, enclosure, enclosure.title))


@blueprint.route("/jobs/<number>/write", methods=["GET", "POST"])
def write(number: str) -> ResponseReturnValue:
    """Write to a job's customer, without a paper."""
    job = jobs.get(db(), number)
    with spoken_for(db(), job.customer):
        subject = gettext("Your job {job}", job=job.number)
    return _send(Letter(job, job.customer, None, subject))


@blueprint.route("/unpaid/<int:customer_id>/remind", methods=["GET", "POST"])
def remind(customer_id: int) -> ResponseReturnValue:
    """Write the reminder that is due to a customer, with the statement; nothing goes by itself."""
    customer = customers.get(db(), customer_id)
    owed = receivables.on_day(db(), today(), customer)
    reminder = reminders.due(db(), owed.debtors).get(customer.id)
    if reminder is None:
        flash(gettext("No reminder is due to {customer}.", customer=customer.name))
        return redirect(url_for("receivables.index"))
    shop = current_shop()
    signed = "\n".join(filter(None, (signed_in().name, shop.name if shop else "")))
    subject, words = reminders.words(db(), customer, reminder, signed)
    enclosure = mailable_documents.find(db(), store(), "statement", customer.id)
    letter = Letter(None, customer, enclosure, subject, words)
    return _send(letter, lambda mail: reminders.note_sent(db(), actor(), reminder, mail))


@dataclass(frozen=True, slots=True)
class Letter:
    """A message to be written: about a job or none, to whom, and with which paper."""

    job: Job | None
    addressee: Customer | Supplier
    enclosure: Enclosure | None
    subject: str
    words: str = ""
    """Words to begin with; else those of a letter about the paper."""

    @property
    def customer(self) -> Customer | None:
        """The customer whose language it is in; none of a supplier."""
        return self.addressee if isinstance(self.addressee, Customer) else None


def _send(
    letter: Letter, queued: Callable[[OutgoingMail], object] = lambda mail: None
) -> ResponseReturnValue:
    job, enclosure = letter.job, letter.enclosure
    with spoken_for(db(), letter.customer):
        body = letter.words or _greeting(letter)
    form = SendForm.to(letter.addressee, subject=letter.subject, body=body)
    if job is None:
        del form.with_link
    if form.validate_on_submit():
        with faults_shown(form):
            wants_link = job is not None and form.with_link.data
            address = customer_links.make(db(), actor(), job)[1] if job and wants_link else ""
            row = outbox.queue(
                db(), actor(), job, form.message,
                enclosure=enclosure, link=address, store=store(), seal=seal(),
            )  # fmt: skip
            queued(row)
            to = ", ".join(row.recipients)
            flash(
                gettext(
                    "The message to {to} is in the outbox and will be sent automatically.", to=to
                )
            )
            if job is None:
                return redirect(url_for("outbox.index"))
            return redirect(url_for("jobs.job", number=job.number, _anchor="messages"))
    ready = smtp_settings.the_mailbox(db()) is not None
    return form_page("mail/send.html", form, letter=letter, ready=ready)


def _greeting(letter: Letter) -> str:
    """Words to begin with, to be changed."""
    shop, enclosure = current_shop(), letter.enclosure
    attached = gettext("Attached: {enclosure}.\n\n", enclosure=enclosure.title) if enclosure else ""
    return gettext(
        "Hello {customer},\n\n{attached}{signed_in}\n{shop}",
        customer=getattr(letter.addressee, "contact", "") or letter.addressee.name,
        attached=attached,
        signed_in=signed_in().name,
        shop=shop.name if shop else "",
    )
