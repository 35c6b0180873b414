"""The outbox: messages, sending them again, calling them off."""

from __future__ import annotations

from flask import Blueprint, Response, flash, redirect, render_template, request, url_for
from flask.typing import ResponseReturnValue

from shopflow.errors import NotFoundError
from shopflow.models import OutgoingMail
from shopflow.services.messaging import outbox, smtp_settings
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db
from shopflow.web.folder import store
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.messaging.outbox.forms import SendAgainForm
from shopflow.web.registry.attachments.serving import attachment

blueprint = Blueprint("outbox", __name__, url_prefix="/outbox")

A_PAGE = 50
FAR = 1_000_000


@blueprint.get("")
def index() -> ResponseReturnValue:
    """Every message, the latest first, a page at a time; those that wait for someone on top."""
    skip = min(max(request.args.get("skip", 0, type=int), 0), FAR)
    messages = outbox.recent(db(), A_PAGE + 1, skip=skip)
    return render_template(
        "outbox/index.html",
        messages=messages[:A_PAGE],
        stuck=[] if skip else outbox.stuck(db()),
        newer=max(skip - A_PAGE, 0) if skip else None,
        older=skip + A_PAGE if len(messages) > A_PAGE else None,
        mailbox=smtp_settings.the_mailbox(db()),
    )


@blueprint.get("/<int:mail_id>")
def message(mail_id: int) -> ResponseReturnValue:
    """One message, what became of it, and what can be done with it."""
    return _message(outbox.get(db(), mail_id), SendAgainForm())


@blueprint.post("/<int:mail_id>/again")
def send_again(mail_id: int) -> ResponseReturnValue:
    """Send a message again that did not go out, or did not arrive."""
    row = outbox.get(db(), mail_id)
    form = SendAgainForm()
    if form.validate_on_submit():
        with faults_shown(form):
            did_not_arrive = bool(form.did_not_arrive.data)
            outbox.send_again(db(), actor(), row, did_not_arrive=did_not_arrive)
            flash(gettext("The message is queued again."))
            return redirect(_page(row))
    return _message(row, form)


@blueprint.post("/<int:mail_id>/arrived")
def arrived(mail_id: int) -> ResponseReturnValue:
    """Note that a message did arrive."""
    row = outbox.get(db(), mail_id)
    outbox.arrived(db(), actor(), row)
    flash(gettext("The message is marked as sent."))
    return redirect(_page(row))


@blueprint.post("/<int:mail_id>/cancel")
def cancel(mail_id: int) -> ResponseReturnValue:
    """Call a message off."""
    row = outbox.get(db(), mail_id)
    outbox.cancel(db(), actor(), row)
    flash(gettext("The message is cancelled."))
    return redirect(_page(row))


@blueprint.get("/<int:mail_id>/paper")
def paper(mail_id: int) -> Response:
    """The document attached to a message, as it was frozen."""
    row = outbox.get(db(), mail_id)
    if not row.attachment_sha256:
        raise NotFoundError(gettext("this message has no attachment"))
    return attachment(store().get(row.attachment_sha256), row.attachment_name)


def _message(row: OutgoingMail, form: SendAgainForm) -> ResponseReturnValue:
    return form_page(
        "outbox/message.html",
        form,
        message=row,
        can_send_again=row.state in outbox.STUCK,
        can_cancel=row.state in outbox.WAITING,
        ready=smtp_settings.the_mailbox(db()) is not None,
    )


def _page(row: OutgoingMail) -> str:
    return url_for("outbox.message", mail_id=row.id)
