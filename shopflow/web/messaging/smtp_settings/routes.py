"""The mail server: its settings, and a test of them."""

from __future__ import annotations

from flask import Blueprint, flash, redirect, url_for
from flask.typing import ResponseReturnValue

from shopflow.mail.delivery import DeliveryError, deliver
from shopflow.mail.message import Letter, build, new_message_id
from shopflow.mail.sealing import SealError
from shopflow.models import MailServer
from shopflow.services.messaging import smtp_settings
from shopflow.services.shop.settings import get_shop
from shopflow.texts import gettext
from shopflow.web.auth import actor
from shopflow.web.db import db, rollback
from shopflow.web.folder import seal
from shopflow.web.forms import faults_shown, form_page
from shopflow.web.messaging.smtp_settings.forms import MailboxForm, TestForm

blueprint = Blueprint("smtp_settings", __name__, url_prefix="/e-mail")

TEST_PATIENCE = 15.0
"""Seconds somebody in front of the page waits for one answer of the server."""


@blueprint.route("", methods=["GET", "POST"])
def settings() -> ResponseReturnValue:
    """Show and change the mail server."""
    row = smtp_settings.the_mailbox(db())
    form = MailboxForm(obj=row)
    if form.validate_on_submit():
        with faults_shown(form, row):
            smtp_settings.save(db(), actor(), seal(), form.settings, form.password.data)
            flash(gettext("The mail server is saved. Send a test message to check it."))
            return redirect(url_for("smtp_settings.settings"))
    return form_page("smtp_settings/settings.html", form, mailbox=row)


@blueprint.route("/test", methods=["GET", "POST"])
def test() -> ResponseReturnValue:
    """Send a test message at once, and say what the server said."""
    row = smtp_settings.get_shop(db())
    form = TestForm(data={"to_address": get_shop(db()).email})
    if form.validate_on_submit():
        letter = _test_letter(row, smtp_settings.one_address(form.to_address.data))
        try:
            server = smtp_settings.server(row, seal())
            # Nobody else's work waits for the database while the mail server is waited for.
            rollback()
            deliver(server, build(letter), patience=TEST_PATIENCE)
            flash(
                gettext(
                    "The mail server took the test message to {to}. Check that it arrives.",
                    to=letter.to,
                )
            )
            return redirect(url_for("smtp_settings.settings"))
        except (DeliveryError, SealError) as error:
            form.form_errors.append(str(error))
    return form_page("smtp_settings/test.html", form)


def _test_letter(row: MailServer, to: str) -> Letter:
    return Letter(
        message_id=new_message_id(row.sender),
        written_at=actor().at,
        to=to,
        to_name="",
        sender=row.sender,
        sender_name=get_shop(db()).name,
        subject=gettext("Test message"),
        body=gettext(
            "This message shows that the shop's mail settings work. You need not do anything."
        ),
        reply_to=row.reply_to,
    )
