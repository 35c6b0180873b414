"""The form of a message."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField

from shopflow.models import Customer
from shopflow.web.fields import AddressesField, AddressField, TypedField, WordsField
from shopflow.web.forms import Form


class SendForm(Form):
    """A message to the customer, or to another recipient of the document."""

    refusal = "Not sent yet."

    to_address = AddressField("To")
    to_name = TypedField("Recipient's name")
    also_to = AddressesField("Also to")
    cc = AddressesField("Copy to (Cc)")
    subject = TypedField("Subject", needed=True)
    body = WordsField("Message", rows=9)
    with_link = BooleanField("Add a private link to the job, valid for 30 days")

    @classmethod
    def to(cls, customer: Customer, **values: Any) -> SendForm:
        """The form, addressed to a customer to begin with."""
        return cls(data={"to_address": customer.email, "to_name": customer.name, **values})

    @property
    def message(self) -> dict[str, Any]:
        """Text of the message and its recipients."""
        return {name: value for name, value in self.values.items() if name != "with_link"}
