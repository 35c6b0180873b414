"""The forms of work at a vendor."""

from __future__ import annotations

from shopflow.models import Supplier
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, DayField, MoneyField
from shopflow.web.forms import Form


class SendOutForm(Form):
    """Work that goes to a vendor."""

    refusal = lazy("Not sent yet.")

    supplier_id = ChoiceField(lazy("Vendor"), {}, needed=True)
    sent_on = DayField(lazy("Sent on"), needed=True)
    due_on = DayField(lazy("Due back (optional)"))
    cost = MoneyField(lazy("Vendor's price (optional)"), lazy("Before tax."))

    @classmethod
    def offering(cls, suppliers: list[Supplier], **values: object) -> SendOutForm:
        """The form with these vendors."""
        form = cls(data=values)
        form.supplier_id.choices = {
            "": gettext("Choose"),
            **{str(row.id): row.name for row in suppliers},
        }
        return form


class BackForm(Form):
    """Work that is back."""

    back_on = DayField(lazy("Back on"), needed=True)
    cost = MoneyField(lazy("Vendor's price (optional)"), lazy("Before tax."))
