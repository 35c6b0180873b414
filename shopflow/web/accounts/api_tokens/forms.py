"""The form of a token."""

from __future__ import annotations

from shopflow.services.accounts.api_tokens import LASTS
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, TypedField
from shopflow.web.forms import Form


class TokenForm(Form):
    """Program that a token is for, and the days it is valid."""

    name = TypedField(lazy("Program"), lazy("A name to recognize the token by."), needed=True)
    days = ChoiceField(
        lazy("Valid for"),
        {days: lazy("{days} days", days=days) for days in LASTS},
        coerce=int,
        default=LASTS[1],
    )
