"""The form of a message."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField

from shopflow.models import Customer, Supplier
from shopflow.texts import lazy
from shopflow.web.fields import AddressesField, AddressField, TypedField, WordsField
from shopflow.web.forms import Form


class SendForm(Form):
    """A message to the customer, or to another recipient of the document."""

    refusal = lazy("Not sent yet.")

    to_address = AddressField(lazy("To"))
    to_name = TypedField(lazy("Recipient's name"))
    also_to = AddressesField(lazy("Also to"))
    cc = AddressesField(lazy("Copy to (Cc)"))
    subject = TypedField(lazy("Subject"), needed=True)
    body = WordsField(lazy("Message"), rows=9)
    with_link = BooleanField(lazy("Add a private link to the job, valid for 30 days"))

    @classmethod
    def to(cls, addressee: Customer | Supplier, **values: Any) -> SendForm:
        """The form, addressed to a customer or supplier to begin with."""
        return cls(data={"to_address": addressee.email, "to_name": addressee.name, **values})

    @property
    def message(self) -> dict[str, Any]:
        """Text of the message and its recipients."""
        return {name: value for name, value in self.values.items() if name != "with_link"}
