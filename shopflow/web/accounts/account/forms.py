"""Forms of one's own account."""

from __future__ import annotations

from shopflow.services.accounts import passwords
from shopflow.texts import lazy
from shopflow.web.fields import NewPasswordField, PasswordField, RepeatedPasswordField, TypedField
from shopflow.web.forms import Form


class SignInForm(Form):
    """Login and password."""

    refusal = lazy("Not signed in.")

    login = TypedField(
        lazy("User name"),
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField(lazy("Password"))


class ConfirmForm(Form):
    """One's own password once more."""

    refusal = lazy("Wrong password.")

    password = PasswordField(lazy("Your password"))


class PasswordForm(Form):
    """A new password for oneself."""

    current = PasswordField(lazy("Current password"))
    password = NewPasswordField(lazy("New password"), passwords.ADVICE)
    again = RepeatedPasswordField(lazy("Repeat new password"))
