"""The forms of quotes."""

from __future__ import annotations

from wtforms import BooleanField, SubmitField

from shopflow.web.fields import DayField, MoneyField, WordsField
from shopflow.web.forms import Form

BUTTONS = ("give", "look")


class QuoteForm(Form):
    """Terms of a quote beside its lines."""

    refusal = "Not sent yet."

    valid_until = DayField("Valid until", needed=True)
    deposit = MoneyField("Deposit asked (optional)", "For example 300.00.")
    payment_terms = WordsField("Payment", rows=2)
    conditions = WordsField("Conditions", rows=4)
    show_minutes = BooleanField("Show the planned minutes")
    give = SubmitField("Send quote")
    look = SubmitField("Preview PDF")

    @property
    def quote_values(self) -> dict[str, object]:
        """The fields that are the quote's."""
        return {name: value for name, value in self.values.items() if name not in BUTTONS}
