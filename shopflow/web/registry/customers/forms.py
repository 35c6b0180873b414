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
        "Tax rate in percent (optional)", "Only if it differs from the shop's rate; 0 if exempt."
    )
    tax_exemption = TypedField(
        "Reason for exemption (optional)", "The certificate number or the reason."
    )
    notes = WordsField("Notes", "Only the shop sees these notes.")
