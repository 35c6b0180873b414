"""Forms of one's own account."""

from __future__ import annotations

from shopflow.services.accounts import passwords
from shopflow.web.fields import NewPasswordField, PasswordField, RepeatedPasswordField, TypedField
from shopflow.web.forms import Form


class SignInForm(Form):
    """Login and password."""

    refusal = "Not signed in."

    login = TypedField(
        "User name",
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField("Password")


class ConfirmForm(Form):
    """One's own password once more."""

    refusal = "Wrong password."

    password = PasswordField("Your password")


class PasswordForm(Form):
    """A new password for oneself."""

    current = PasswordField("Current password")
    password = NewPasswordField("New password", passwords.ADVICE)
    again = RepeatedPasswordField("Repeat new password")
