"""The form of sending a message again."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.texts import lazy
from shopflow.web.forms import Form


class SendAgainForm(Form):
    """Sending a message again that may have arrived."""

    did_not_arrive = BooleanField(lazy("I asked the recipient: it did not arrive"))
