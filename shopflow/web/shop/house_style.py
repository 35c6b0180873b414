"""The house style as a form."""

from __future__ import annotations

from datetime import date
from typing import Any

from flask_wtf.file import FileField
from wtforms import BooleanField

from shopflow.papers.dates import FORMATS, day
from shopflow.papers.labels import LABELS
from shopflow.services.house_style import SPECIFICATION
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
    """How papers look, and what money papers say."""

    logo_file = FileField(
        "Logo", description="PNG or JPEG, at most 4 MB. Empty keeps the one on file."
    )
    no_logo = BooleanField("Print no logo")
    accent = ColourField("Bar colour", "accent", "As #0f4c75; over each page.")
    second = ColourField("Line colour", "second", "As #5a6472; the rules of the letterhead.")
    date_format = ChoiceField("Dates on papers", {code: day(EXAMPLE, code) for code in FORMATS})
    label_size = ChoiceField("Usual labels", {code: item.name for code, item in LABELS.items()})
    label_name = ChoiceField(
        "Customer on labels", {"name": "The whole name", "initials": "Initials only"}
    )
    tax_label = TypedField("Tax is called", "As Sales tax or VAT.", needed=True)
    tax_number = TypedField("Your tax number", "Printed on invoices; empty for none.")
    payment_days = CountField("Invoices fall due after, days")
    quote_days = CountField("Quotes hold for, days", least=1)
    payment_terms = WordsField("Payment terms", rows=2)
    payment_to = WordsField("Pay to", "Account and ways to pay, printed on invoices.")
    quote_conditions = WordsField("Conditions of quotes", rows=4)

    @property
    def style_values(self) -> dict[str, object]:
        """The fields that are settings."""
        return {name: value for name, value in self.values.items() if name not in FILES}
