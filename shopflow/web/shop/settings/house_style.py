"""The house style as a form."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask_wtf.file import FileField
from wtforms import BooleanField

from shopflow.documents.dates import FORMATS, day
from shopflow.documents.labels import LABELS
from shopflow.services.shop.house_style import SPECIFICATION
from shopflow.web.fields import ChoiceField, CountField, TypedField, WordsField
from shopflow.web.forms import EditForm

FILES = ("logo_file", "no_logo")
EXAMPLE = date(2026, 3, 5)


class ColourField(TypedField):
    """A colour of six hexadecimal digits."""

    def __init__(self, label: str, setting: str, hint: str, **rest: Any) -> None:
        super().__init__(label, hint, needed=True, **rest)
        self.reader = SPECIFICATION[setting]


class HouseStyleForm(EditForm):
    """Look of the documents, and wording of invoices and quotes."""

    logo_file = FileField(
        "Logo", description="PNG or JPEG, at most 4 MB. Leave empty to keep the current one."
    )
    no_logo = BooleanField("Print no logo")
    accent = ColourField(
        "Bar colour", "accent", "The bar at the top of each page. For example #0f4c75."
    )
    second = ColourField(
        "Line colour", "second", "The lines of the letterhead. For example #5a6472."
    )
    date_format = ChoiceField("Date format", {code: day(EXAMPLE, code) for code in FORMATS})
    label_size = ChoiceField(
        "Default label size", {code: item.name for code, item in LABELS.items()}
    )
    label_name = ChoiceField(
        "Customer on labels", {"name": "Full name", "initials": "Initials only"}
    )
    tax_label = TypedField("Name of tax", "For example Sales tax or VAT.", needed=True)
    tax_number = TypedField("Your tax number (optional)", "Printed on invoices.")
    payment_days = CountField("Invoices due after, days")
    quote_days = CountField("Quotes valid for, days", least=1)
    payment_terms = WordsField("Payment terms", rows=2)
    payment_to = WordsField("Pay to", "Account and ways to pay, printed on invoices.")
    quote_conditions = WordsField("Quote conditions", rows=4)

    @property
    def style_values(self) -> dict[str, object]:
        """The fields that are settings."""
        return {name: value for name, value in self.values.items() if name not in FILES}
