"""The form of the first start."""

from __future__ import annotations

from wtforms.validators import EqualTo

from shopflow.services.people import SHORTEST_PASSWORD
from shopflow.web.fields import PasswordField, TypedField
from shopflow.web.shop.forms import ShopBasics


class SetUpForm(ShopBasics):
    """The shop, and the owner's account."""

    owner_name = TypedField("Your name", needed=True, render_kw={"autocomplete": "name"})
    login = TypedField(
        "Login",
        "A short name to sign in with, as 'sam'.",
        needed=True,
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = PasswordField("Password", f"At least {SHORTEST_PASSWORD} characters.", new=True)
    again = PasswordField(
        "Password again",
        new=True,
        validators=[EqualTo("password", "not the same as the one above")],
    )

    OWNER = ("owner_name", "login", "password", "again")
