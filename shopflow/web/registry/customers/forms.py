"""The form of a customer."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.documents import countries
from shopflow.models import ExemptionKind
from shopflow.services.registry.customers import SPECIFICATION
from shopflow.texts import LANGUAGES, gettext, lazy
from shopflow.web.fields import ChoiceField, DayField, DecimalField, TypedField, WordsField
from shopflow.web.forms import EditForm


class VatField(TypedField):
    """A VAT number."""

    reader = staticmethod(SPECIFICATION["vat_id"])


class CustomerForm(EditForm):
    """A person or firm."""

    name = TypedField(lazy("Name"), needed=True)
    is_firm = BooleanField(lazy("This is a firm"))
    phone = TypedField(lazy("Telephone"), render_kw={"type": "tel"})
    email = TypedField(lazy("E-mail"), render_kw={"type": "email"})
    address = WordsField(lazy("Address"), rows=4)
    language = ChoiceField(
        lazy("Language of documents"),
        {"": lazy("The shop's language"), **LANGUAGES},
        lazy("Spelling and date order of this customer's documents and mail."),
        default="",
    )
    tax_rate_percent = DecimalField(
        lazy("Tax rate in percent (optional)"),
        lazy("Only if it differs from the shop's rate; 0 if exempt."),
    )
    tax_exemption = TypedField(
        lazy("Reason for exemption (optional)"), lazy("For example Resale. Printed on invoices.")
    )
    exemption_certificate = TypedField(lazy("Certificate number (optional)"))
    exemption_valid_until = DayField(
        lazy("Certificate valid until (optional)"), lazy("Quotes and invoices warn once it passed.")
    )
    exemption_kind = ChoiceField(
        lazy("Kind of exemption"),
        ExemptionKind,
        lazy("Stated by electronic invoices."),
        default=ExemptionKind.EXEMPT.value,
    )
    country = ChoiceField(
        lazy("Country"),
        lambda: {"": gettext("The shop's country"), **countries.names()},
        default="",
        render_kw={"translate": "no"},
    )
    vat_id = VatField(lazy("VAT number (optional)"))
    buyer_reference = TypedField(
        lazy("Buyer reference (optional)"), lazy("If the customer routes invoices by one.")
    )
    open_data_consent = BooleanField(
        lazy("Results may be published as open data"),
        description=lazy(
            "Only if the customer agreed. Open data then holds this customer's tests."
        ),
    )
    notes = WordsField(lazy("Notes"), lazy("Only the shop sees these notes."))
