"""The form of a customer."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.web.fields import DecimalField, TypedField, WordsField
from shopflow.web.forms import EditForm


class CustomerForm(EditForm):
    """A person or firm."""

    name = TypedField("Name", needed=True)
    is_firm = BooleanField("This is a firm")
    phone = TypedField("Telephone", render_kw={"type": "tel"})
    email = TypedField("E-mail", render_kw={"type": "email"})
    address = WordsField("Address", rows=4)
    tax_rate_percent = DecimalField(
        "Own tax rate in percent", "Only where it differs from the shop's; zero for the exempt."
    )
    tax_exemption = TypedField("Ground of exemption", "Number of the certificate, or the reason.")
    notes = WordsField("Notes", "Seen in the shop only.")
