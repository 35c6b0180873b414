"""The form of a payment."""

from __future__ import annotations

from shopflow.services import payments
from shopflow.web.fields import DayField, MoneyField, TypedField
from shopflow.web.forms import Form


class SignedMoneyField(MoneyField):
    """An amount that may be below zero, and not nothing."""

    reader = staticmethod(payments.SPECIFICATION["amount"])


class PaymentForm(Form):
    """Money that came in on a job."""

    amount = SignedMoneyField("Amount", "As 300.00; -300.00 where it is paid back.", needed=True)
    method = TypedField("How", "Cash, card, bank transfer …", needed=True)
    received_on = DayField("Received on", needed=True)
    note = TypedField("Note", "As the number of a cheque or transfer.")
