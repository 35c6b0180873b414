"""The form of the first start."""

from __future__ import annotations

from shopflow.services.accounts import passwords
from shopflow.texts import lazy
from shopflow.web.fields import NewPasswordField, RepeatedPasswordField, TypedField
from shopflow.web.shop.settings.forms import ShopBasics


class SetUpForm(ShopBasics):
    """The shop, and the owner's account."""

    code = TypedField(
        lazy("Set-up code"),
        lazy("Shown in the terminal where shopflow was started. For example K7QFP-3MPDX."),
        needed=True,
        render_kw={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"},
    )
    owner_name = TypedField(lazy("Your name"), needed=True, render_kw={"autocomplete": "name"})
    login = TypedField(
        lazy("User name"),
        lazy("A short name to sign in with. For example sam."),
        needed=True,
        render_kw={"autocomplete": "username", "autocapitalize": "none", "spellcheck": "false"},
    )
    password = NewPasswordField(lazy("Password"), passwords.ADVICE)
    again = RepeatedPasswordField(lazy("Repeat password"))
