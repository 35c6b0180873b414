"""The forms of a part and of its stock."""

from __future__ import annotations

from wtforms import BooleanField

from shopflow.models import Part, Shop, Supplier, TaxClass
from shopflow.services import fields as readers
from shopflow.services.parts import catalog
from shopflow.texts import gettext, lazy
from shopflow.web.billing.job_lines.forms import class_choices
from shopflow.web.fields import ChoiceField, DecimalField, MoneyField, TypedField, WordsField
from shopflow.web.forms import EditForm, Form


class QuantityOfPartField(DecimalField):
    """A quantity of a part; blank for none."""

    reader = staticmethod(catalog.quantity(required=False, above_zero=False))


class PartForm(EditForm):
    """A part of the catalog."""

    number = TypedField(lazy("Part number"), lazy("For example EV-36."), needed=True)
    name = TypedField(lazy("Name"), lazy("For example Exhaust valve, 36 mm."), needed=True)
    unit = TypedField(lazy("Unit (optional)"), lazy("For example pc."))
    supplier_id = ChoiceField(lazy("Supplier"), {})
    supplier_number = TypedField(lazy("Supplier's number (optional)"))
    cost = MoneyField(lazy("Cost (optional)"), lazy("Paid for one, before tax."))
    price = MoneyField(lazy("Price (optional)"), lazy("Charged for one, before tax."))
    tax_class = ChoiceField(lazy("Tax class"), {}, default=TaxClass.STANDARD.value)
    bin = TypedField(lazy("Bin (optional)"), lazy("Shelf or drawer. For example B 3."))
    reorder_point = QuantityOfPartField(
        lazy("Reorder at (optional)"),
        lazy("When no more is in stock, it is listed to order. Blank if not kept in stock."),
    )
    notes = WordsField(lazy("Notes (optional)"))
    active = BooleanField(lazy("In use"), default=True)

    @classmethod
    def over(cls, part: Part | None, shop: Shop, suppliers: list[Supplier]) -> PartForm:
        """The form, filled from a part where there is one."""
        form = cls(obj=part)
        form.tax_class.choices = class_choices(shop)
        form.supplier_id.choices = {
            "": gettext("None"),
            **{str(row.id): row.name for row in suppliers},
        }
        return form


class CountForm(Form):
    """Stock counted by hand."""

    counted = QuantityOfPartField(lazy("Counted"), needed=True)
    why = TypedField(lazy("Note (optional)"))


class CorrectForm(Form):
    """Stock corrected, with the reason."""

    change = DecimalField(
        lazy("Add or take off"), lazy("For example 2, or -1 for one that broke."), needed=True
    )
    why = TypedField(lazy("Reason"), lazy("For example bent in the box."), needed=True)

    def __init__(self, *args: object, **options: object) -> None:
        super().__init__(*args, **options)
        self.change.reader = readers.decimal(places=3, least=None)
