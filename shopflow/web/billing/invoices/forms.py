"""The forms of invoices."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import SubmitField

from shopflow.services.billing import invoices
from shopflow.services.billing.balances import Balance
from shopflow.services.billing.credits import OpenLine
from shopflow.texts import gettext, lazy
from shopflow.web.fields import MoneyField, SignedMoneyField, TicksField, WordsField
from shopflow.web.forms import Form


class IssueForm(Form):
    """Issuing an invoice for the steps and lines chosen, once looked at."""

    refusal = lazy("Not issued yet.")

    steps = TicksField(lazy("Lines to invoice"))
    issue = SubmitField(lazy("Issue invoice"))
    preview = SubmitField(lazy("Preview PDF"))
    look = SubmitField(lazy("Update total"))

    @classmethod
    def offering(cls, balance: Balance) -> IssueForm:
        """The form with what is approved, what is ready ticked."""
        form = cls(data={"steps": [row.key for row in invoices.ready(balance)]})
        form.steps.choices = {row.key: row.title for row in balance.to_invoice}
        return form

    def take_head(self, balance: Balance, tag: str) -> bool:
        """Tick all of a head and nothing else, where its button was pressed; False where none."""
        if tag:
            self.steps.data = [row.key for row in balance.to_invoice if row.tag == tag]
        return bool(tag)

    @property
    def chosen(self) -> list[str]:
        """Keys of what is ticked."""
        return [key for key in self.steps.data or () if key in self.steps.choices]


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
        line.name: (SignedMoneyField if line.is_discount else MoneyField)(
            gettext("Credit for {what}", what=line.printed.what), default=f"{line.left:.2f}"
        )
        for line in lines
    }
    form: CreditForm = type("CreditFormOfLines", (CreditForm,), fields)()
    return form
