"""The form of a payment."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, SubmitField

from shopflow.services.billing import payments
from shopflow.texts import lazy
from shopflow.web.fields import DayField, SignedMoneyField, TypedField
from shopflow.web.forms import Form


class PaidField(SignedMoneyField):
    """An amount that may be below zero, and not nothing."""

    reader = staticmethod(payments.SPECIFICATION["amount"])


class PaymentForm(Form):
    """Money that came in on a job."""

    amount = PaidField(
        lazy("Amount"), lazy("For example 300.00, or -300.00 for money paid back."), needed=True
    )
    method = TypedField(
        lazy("Paid by"), lazy("For example cash, card or bank transfer."), needed=True
    )
    received_on = DayField(lazy("Received on"), needed=True)
    note = TypedField(lazy("Note (optional)"), lazy("For example a check or transfer number."))
    is_deposit = BooleanField(lazy("Deposit (paid before the work is done)"))
    overpayment_meant = BooleanField(lazy("The customer intends to pay more than is owed"))
    way = SubmitField()
    """Way of paying on the button pressed, which saves the payment at once."""

    def take_way(self) -> None:
        """Take the way of paying from the button, where one of those was pressed."""
        if self.way.data:
            self.method.data = self.way.raw_data[0]

    @property
    def values(self) -> dict[str, Any]:
        """The payment's values."""
        return {name: value for name, value in super().values.items() if name != "way"}
