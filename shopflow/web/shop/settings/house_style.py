"""The house style as a form."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask_wtf.file import FileField
from wtforms import BooleanField

from shopflow.documents.dates import FORMATS, day
from shopflow.documents.labels import LABELS
from shopflow.services.shop.house_style import SPECIFICATION
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField, TypedField, WordsField
from shopflow.web.forms import EditForm

FILES = ("logo_file", "no_logo")
EXAMPLE = date(2026, 3, 5)


class ColourField(TypedField):
    """A colour of six hexadecimal digits."""

    def __init__(self, label: str, setting: str, hint: str, **rest: Any) -> None:
        super().__init__(label, hint, needed=True, **rest)
        self.reader = SPECIFICATION[setting]


class SettingField(TypedField):
    """A setting whose rule is the service's."""

    def __init__(self, label: str, setting: str, hint: str = "", **rest: Any) -> None:
        super().__init__(label, hint, **rest)
        self.reader = SPECIFICATION[setting]


class HouseStyleForm(EditForm):
    """Look of the documents, and wording of invoices and quotes."""

    logo_file = FileField(
        lazy("Logo"),
        description=lazy("PNG or JPEG, at most 4 MB. Leave empty to keep the current one."),
    )
    no_logo = BooleanField(lazy("Print no logo"))
    accent = ColourField(
        lazy("Bar color"), "accent", lazy("The bar at the top of each page. For example #0f4c75.")
    )
    second = ColourField(
        lazy("Line color"), "second", lazy("The lines of the letterhead. For example #5a6472.")
    )
    date_format = ChoiceField(
        lazy("Date format"),
        {code: day(EXAMPLE, code) for code in FORMATS},
        render_kw={"translate": "no"},
    )
    label_size = ChoiceField(
        lazy("Default label size"), {code: item.name for code, item in LABELS.items()}
    )
    label_name = ChoiceField(
        lazy("Customer on labels"), {"name": lazy("Full name"), "initials": lazy("Initials only")}
    )
    tax_label = TypedField(lazy("Name of tax"), lazy("For example Sales tax or VAT."), needed=True)
    tax_number = TypedField(lazy("Your tax number (optional)"), lazy("Printed on invoices."))
    payment_days = CountField(lazy("Invoices due after, days"))
    quote_days = CountField(lazy("Quotes valid for, days"), least=1)
    payment_terms = WordsField(lazy("Payment terms"), rows=2)
    payment_to = WordsField(lazy("Pay to"), lazy("Account and ways to pay, printed on invoices."))
    e_invoices = BooleanField(
        lazy("Issue electronic invoices"),
        description=lazy(
            "The PDF then holds the invoice for programs too, as EN 16931 (Factur-X, ZUGFeRD)."
        ),
    )
    vat_id = SettingField(lazy("Your VAT number"), "vat_id", lazy("For example DE999999995."))
    iban = SettingField(lazy("IBAN (optional)"), "iban", lazy("Account to pay to."))
    bic = SettingField(lazy("BIC (optional)"), "bic")
    quote_conditions = WordsField(lazy("Quote conditions"), rows=4)
    quote_forecasts = BooleanField(
        lazy("Print forecasts on quotes"),
        description=lazy("What your own past tests gave for this work, as a range; no promise."),
    )

    @property
    def style_values(self) -> dict[str, object]:
        """The fields that are settings."""
        return {name: value for name, value in self.values.items() if name not in FILES}
