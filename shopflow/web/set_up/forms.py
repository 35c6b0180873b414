"""The form of the first start."""

from __future__ import annotations

from shopflow.services import passwords
from shopflow.web.fields import NewPasswordField, RepeatedPasswordField, TypedField
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
    password = NewPasswordField("Password", passwords.ADVICE)
    again = RepeatedPasswordField("Password again")
