"""The forms of a purchase order: its draft, what came on it, and why it is cancelled."""

from __future__ import annotations

from typing import Any

from wtforms import SubmitField

from shopflow.models import Part, PurchaseOrder, Supplier
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, DayField, MoneyField, TypedField, WordsField
from shopflow.web.forms import Form
from shopflow.web.parts.catalog.forms import QuantityOfPartField


class StartForm(Form):
    """The supplier of a new order."""

    supplier_id = ChoiceField(lazy("Supplier"), {}, needed=True)

    @classmethod
    def offering(cls, suppliers: list[Supplier]) -> StartForm:
        """The form with these suppliers."""
        form = cls()
        form.supplier_id.choices = {
            "": gettext("Choose"),
            **{str(row.id): row.name for row in suppliers},
        }
        return form


class DraftForm(Form):
    """A draft: quantity and cost of each line, and a part to add."""

    expected_on = DayField(lazy("Expected on (optional)"))
    notes = WordsField(lazy("Note to the supplier (optional)"))
    part_id = ChoiceField(lazy("Add part"), {})
    quantity = QuantityOfPartField(lazy("Quantity"))
    save = SubmitField(lazy("Save order"))
    place = SubmitField(lazy("Place order"))

    @property
    def order_values(self) -> dict[str, Any]:
        """The fields that are the order's own."""
        return {"expected_on": self.expected_on.data, "notes": self.notes.data}

    @property
    def added(self) -> dict[str, Any]:
        """The part to add; empty where none is chosen."""
        if not self.part_id.data:
            return {}
        return {"part_id": self.part_id.data, "quantity": self.quantity.data or "1"}

    @property
    def lines(self) -> dict[int, dict[str, Any]]:
        """Quantity and cost typed, by line."""
        typed: dict[int, dict[str, Any]] = {}
        for name, value in self.values.items():
            field, _, key = name.partition("-")
            if key:
                typed.setdefault(int(key), {})[field] = value
        return typed


def draft_form(order: PurchaseOrder, parts: list[Part]) -> DraftForm:
    """The form of a draft, with two fields a line."""
    fields: dict[str, Any] = {}
    for line in order.lines:
        name = {"part": line.description}
        fields[f"quantity-{line.id}"] = QuantityOfPartField(
            gettext("Quantity of {part}", **name), default=str(line.quantity)
        )
        fields[f"cost-{line.id}"] = MoneyField(
            gettext("Cost of one {part}", **name),
            default="" if line.cost is None else f"{line.cost:.2f}",
        )
    start = {"expected_on": order.expected_on, "notes": order.notes}
    form: DraftForm = type("DraftFormOfLines", (DraftForm,), fields)(data=start)
    form.part_id.choices = {
        "": gettext("None"),
        **{str(part.id): part.title for part in parts},
    }
    return form


class ReceiveForm(Form):
    """Quantities that came on an order."""

    refusal = lazy("Not received yet.")

    @property
    def quantities(self) -> dict[int, Any]:
        """Quantities typed, by line."""
        return {
            int(name.partition("-")[2]): value
            for name, value in self.values.items()
            if name.startswith("received-")
        }


def receive_form(order: PurchaseOrder) -> ReceiveForm:
    """The form with a quantity to a line, at first all that is to come."""
    fields = {
        f"received-{line.id}": QuantityOfPartField(
            gettext("Received of {part}", part=line.description), default=str(line.outstanding)
        )
        for line in order.lines
        if line.outstanding > 0
    }
    form: ReceiveForm = type("ReceiveFormOfLines", (ReceiveForm,), fields)()
    return form


class CancelOrderForm(Form):
    """Reason why an order is cancelled."""

    refusal = lazy("Not cancelled yet.")

    cancel_reason = TypedField(lazy("Reason"), needed=True)
