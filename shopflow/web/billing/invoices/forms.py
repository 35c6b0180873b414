"""The forms of invoices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import SubmitField

from shopflow.services.billing import invoices
from shopflow.services.billing.balances import Balance
from shopflow.services.billing.credits import OpenLine
from shopflow.texts import gettext, lazy
from shopflow.web.fields import MoneyField, TicksField, WordsField
from shopflow.web.forms import Form


class IssueForm(Form):
    """Issuing an invoice for the steps chosen, once looked at."""

    refusal = lazy("Not issued yet.")

    steps = TicksField(lazy("Steps to invoice"))
    issue = SubmitField(lazy("Issue invoice"))
    preview = SubmitField(lazy("Preview PDF"))
    look = SubmitField(lazy("Update total"))

    @classmethod
    def offering(cls, balance: Balance) -> IssueForm:
        """The form with the approved steps, those that are done ticked."""
        form = cls(data={"steps": [str(step.id) for step in invoices.ready(balance)]})
        form.steps.choices = {str(step.id): step.kind.name for step in balance.to_invoice}
        return form

    @property
    def chosen(self) -> list[int]:
        """Keys of the steps that are ticked."""
        return [int(key) for key in self.steps.data or () if key in self.steps.choices]


class CreditForm(Form):
    """Taking an invoice back, whole or in part."""

    refusal = lazy("Not issued yet.")

    reason = WordsField(
        lazy("Reason for the credit"), lazy("Printed on the credit note."), needed=True
    )
    issue = SubmitField(lazy("Issue credit note"))

    @property
    def amounts(self) -> dict[str, Any]:
        """Amount to credit on each line, by the field's name."""
        return {name: value for name, value in self.values.items() if name.startswith("amount-")}


def credit_form(lines: Sequence[OpenLine]) -> CreditForm:
    """The form with an amount to a line, at first all that is left of it."""
    fields = {
        line.name: MoneyField(
            gettext("Credit for {what}", what=line.printed.what), default=f"{line.left:.2f}"
        )
        for line in lines
    }
    form: CreditForm = type("CreditFormOfLines", (CreditForm,), fields)()
    return form
