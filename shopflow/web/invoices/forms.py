"""The forms of invoices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import SubmitField

from shopflow.services.credits import Left
from shopflow.web.fields import MoneyField, WordsField
from shopflow.web.forms import Form


class IssueForm(Form):
    """Issuing, once looked at."""

    refusal = "Not issued yet."

    issue = SubmitField("Issue the invoice")


class CreditForm(Form):
    """Taking an invoice back, whole or in part."""

    refusal = "Not issued yet."

    reason = WordsField("Why it is taken back", "Printed on the credit note.", needed=True)
    issue = SubmitField("Issue the credit note")

    @property
    def amounts(self) -> dict[str, Any]:
        """What is taken back of each line, by the field's name."""
        return {name: value for name, value in self.values.items() if name.startswith("amount-")}


def credit_form(lines: Sequence[Left]) -> CreditForm:
    """The form with an amount to a line, at first all that is left of it."""
    fields = {
        line.name: MoneyField(f"Taken back of {line.said.what}", default=f"{line.left:.2f}")
        for line in lines
    }
    form: CreditForm = type("CreditFormOfLines", (CreditForm,), fields)()
    return form
