"""The forms of quotes."""

from __future__ import annotations

from wtforms import BooleanField, SubmitField

from shopflow.texts import lazy
from shopflow.web.fields import DayField, MoneyField, WordsField
from shopflow.web.forms import Form

BUTTONS = ("give", "look")


class QuoteForm(Form):
    """Terms of a quote beside its lines."""

    refusal = lazy("Not sent yet.")

    valid_until = DayField(lazy("Valid until"), needed=True)
    deposit = MoneyField(lazy("Deposit asked (optional)"), lazy("For example 300.00."))
    payment_terms = WordsField(lazy("Payment"), rows=2)
    conditions = WordsField(lazy("Conditions"), rows=4)
    show_minutes = BooleanField(lazy("Show the planned minutes"))
    give = SubmitField(lazy("Send quote"))
    look = SubmitField(lazy("Preview PDF"))

    @property
    def quote_values(self) -> dict[str, object]:
        """The fields that are the quote's."""
        return {name: value for name, value in self.values.items() if name not in BUTTONS}
