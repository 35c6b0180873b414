"""Forms of one's own account."""

from __future__ import annotations

from wtforms.validators import EqualTo

from shopflow.services.people import SHORTEST_PASSWORD
from shopflow.web.fields import PasswordField, TypedField
from shopflow.web.forms import Form


class SignInForm(Form):
    """Login and password."""

    login = TypedField(
        "Login",
        needed=True,
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField("Password")


class PasswordForm(Form):
    """A new password for oneself."""

    current = PasswordField("Password now")
    password = PasswordField("New password", f"At least {SHORTEST_PASSWORD} characters.", new=True)
    again = PasswordField(
        "New password again",
        new=True,
        validators=[EqualTo("password", "not the same as the one above")],
    )
