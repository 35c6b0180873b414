"""The form of a deposit invoice."""

from __future__ import annotations

from shopflow.models import Shop
from shopflow.texts import lazy
from shopflow.web.billing.job_lines.forms import class_choices
from shopflow.web.fields import ChoiceField, MoneyField, TypedField
from shopflow.web.forms import Form


class DepositForm(Form):
    """A deposit to invoice."""

    refusal = lazy("Not issued yet.")

    amount = MoneyField(lazy("Amount before tax"), lazy("For example 300.00."), needed=True)
    tax_class = ChoiceField(lazy("Tax class"), {}, lazy("Of the work it is for."))
    description = TypedField(lazy("Description"), needed=True)

    @classmethod
    def of(cls, shop: Shop, start: dict[str, object]) -> DepositForm:
        """The form, with these defaults."""
        form = cls(data=start)
        form.tax_class.choices = class_choices(shop)
        return form
