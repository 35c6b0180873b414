"""The forms of the mail server."""

from __future__ import annotations

from typing import Any

from shopflow.mail.server import Security
from shopflow.services.messaging import smtp_settings
from shopflow.texts import lazy
from shopflow.web.fields import AddressField, ChoiceField, CountField, PasswordField, TypedField
from shopflow.web.forms import EditForm, Form

SECURITY = {
    Security.STARTTLS.value: lazy("STARTTLS, usually port 587"),
    Security.TLS.value: lazy("TLS, usually port 465"),
    Security.NONE.value: lazy("None: own network only"),
}


class MailboxForm(EditForm):
    """The shop's mail server."""

    host = TypedField(
        lazy("Mail server"),
        lazy("Your mail provider tells you this. For example mail.example.com."),
        needed=True,
    )
    port = CountField(lazy("Port"), least=1, default=587)
    security = ChoiceField(lazy("Security"), SECURITY, default=Security.STARTTLS.value)
    login = TypedField(lazy("User name (optional)"), lazy("Leave empty if the server needs none."))
    password = PasswordField(
        lazy("Password"), lazy("Leave empty to keep the saved one. Stored encrypted.")
    )
    sender = AddressField(lazy("Sent from"), lazy("The address that messages come from."))
    reply_to = TypedField(
        lazy("Reply to (optional)"), lazy("If replies should go to another address.")
    )
    log_head_to = TypedField(
        lazy("Send record log to (optional)"),
        lazy(
            "An address outside the shop. A line each day shows later that no records were "
            "rewritten."
        ),
    )

    def __init__(self, **rest: Any) -> None:
        super().__init__(**rest)
        self.password.flags.required = False
        for name in ("host", "port", "reply_to", "log_head_to"):
            self[name].reader = smtp_settings.SPECIFICATION[name]

    @property
    def settings(self) -> dict[str, Any]:
        """Everything but the password."""
        return {name: value for name, value in self.values.items() if name != "password"}


class TestForm(Form):
    """Address of a test message."""

    refusal = lazy("The test message was not sent.")

    to_address = AddressField(lazy("Send a test message to"))
