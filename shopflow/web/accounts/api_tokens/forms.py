"""The form of a token."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import Bench, Scope
from shopflow.services.accounts.api_tokens import LASTS
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, TicksField, TypedField
from shopflow.web.forms import Form

SCOPES = {
    Scope.READ: lazy("Read records, without money"),
    Scope.MONEY: lazy("Read quotes, invoices, payments and balances"),
    Scope.MEASURE: lazy("Add flow tests, readings, measurements, photos and notes"),
    Scope.BENCH: lazy("Post readings of one bench only"),
}
"""Scopes of a token, in words."""


class TokenForm(Form):
    """Program that a token is for, its scopes, and the days it is valid."""

    name = TypedField(lazy("Program"), lazy("A name to recognize the token by."), needed=True)
    scopes = TicksField(lazy("Scopes"), default=[Scope.READ.value])
    bench = ChoiceField(
        lazy("Bench (optional)"), {}, lazy("For a token that posts readings of one bench.")
    )
    days = ChoiceField(
        lazy("Valid for"),
        {days: lazy("{days} days", days=days) for days in LASTS},
        coerce=int,
        default=LASTS[1],
    )

    @classmethod
    def offering(cls, benches: Sequence[Bench]) -> TokenForm:
        """The form with the benches to choose from."""
        form = cls()
        form.scopes.choices = [(scope.value, str(words)) for scope, words in SCOPES.items()]
        form.bench.choices = [("", "")] + [(str(row.id), row.name) for row in benches]
        return form
