"""The form of a saved routing: its name and its steps in order."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from wtforms import FieldList, FormField, SubmitField
from wtforms import Form as PlainForm

from shopflow.models import OperationKind, Routing, TaxClass
from shopflow.services.routing.work_plans import PART
from shopflow.services.shop.built_in_plans import Starter
from shopflow.texts import gettext, lazy
from shopflow.web.fields import (
    ChoiceField,
    CountField,
    DecimalField,
    MoneyField,
    TicksField,
    TypedField,
    WordsField,
)
from shopflow.web.forms import EditForm, Form

MOST_STEPS = 40
MORE = 3
"""Empty steps added at a time."""


class StepPart(PlainForm):
    """One step; one without a kind is left out."""

    kind = ChoiceField(lazy("Step"), {})
    instructions = WordsField(lazy("Instructions"), rows=2)
    customer_text = TypedField(lazy("Text for the customer (optional)"))
    planned_minutes = CountField(lazy("Planned minutes"))
    price = MoneyField(lazy("Price"))
    earlier = SubmitField(lazy("Move up"))


class PartPart(PlainForm):
    """One part; one without a description is left out."""

    description = TypedField(lazy("Part"))
    part_number = TypedField(lazy("Part number (optional)"))
    quantity = DecimalField(lazy("Quantity"))
    unit = TypedField(lazy("Unit (optional)"))
    unit_price = MoneyField(lazy("Unit price"))


class RoutingForm(EditForm):
    """A saved routing."""

    name = TypedField(lazy("Name"), needed=True)
    notes = TypedField(lazy("When to use (optional)"))
    package_price = MoneyField(
        lazy("Package price (optional)"),
        lazy("For all its steps and parts together. Leave blank to charge each by itself."),
    )
    tax_class = ChoiceField(
        lazy("Tax class of the package"), TaxClass, default=TaxClass.STANDARD.value
    )
    parts = FieldList(FormField(PartPart), min_entries=MORE, max_entries=MOST_STEPS)
    steps = FieldList(FormField(StepPart), min_entries=MORE, max_entries=MOST_STEPS)
    more = SubmitField(lazy("Add steps"))

    @classmethod
    def over(cls, routing: Routing | None) -> RoutingForm:
        """The form, filled from a routing where there is one."""
        if routing is None:
            return cls()
        steps = [
            {
                "kind": step.kind.code,
                "instructions": step.instructions,
                "customer_text": step.customer_text,
                "planned_minutes": step.planned_minutes,
                "price": step.price,
            }
            for step in routing.steps
        ]
        return cls(
            data={
                "name": routing.name,
                "notes": routing.notes,
                "version": routing.version,
                "package_price": routing.package_price,
                "tax_class": routing.tax_class,
                "parts": [
                    *({name: getattr(part, name) for name in PART} for part in routing.parts),
                    {},
                ],
                "steps": [*steps, {}],
            }
        )

    def offer(self, kinds: Sequence[OperationKind]) -> None:
        """Let each step be one of these kinds."""
        choices = {"": gettext("No step")} | {kind.code: kind.name for kind in kinds}
        for step in self.steps:
            step.form.kind.choices = choices

    @property
    def saving(self) -> bool:
        """True where it was sent to be saved, rather than to change its shape."""
        return bool(self.is_submitted() and not self.more.data)

    @property
    def parts_given(self) -> list[dict[str, Any]]:
        """The parts that have a description, as the service takes them."""
        return [part for part in self.data["parts"] if (part["description"] or "").strip()]

    @property
    def package(self) -> dict[str, Any]:
        """The price of the package, and its tax class."""
        return {"package_price": self.package_price.data, "tax_class": self.tax_class.data}

    @property
    def steps_given(self) -> list[dict[str, Any]]:
        """The steps that have a kind, as the service takes them."""
        return [
            {name: value for name, value in step.items() if name != "earlier"}
            for step in self.data["steps"]
            if step["kind"]
        ]


def reshaped(form: RoutingForm) -> RoutingForm:
    """The form with a step moved up or with more empty steps, where that was requested."""
    typed = form.data
    steps: list[dict[str, Any]] = typed["steps"]
    raised = [index for index, step in enumerate(steps) if step["earlier"] and index]
    for index in raised[:1]:
        steps[index - 1], steps[index] = steps[index], steps[index - 1]
    if form.more.data:
        steps += [{} for _ in range(min(MORE, MOST_STEPS - len(steps)))]
    if not raised and not form.more.data:
        return form
    for step in steps:
        step.pop("earlier", None)
    return RoutingForm(formdata=None, data={**typed, "steps": steps, "more": True})


class StartersForm(Form):
    """The starter templates that a shop wants, none ticked at first."""

    refusal = lazy("Not added yet.")

    keys = TicksField(lazy("Templates"))

    @classmethod
    def offering(cls, starters: Sequence[Starter]) -> StartersForm:
        """The form with these templates on offer."""
        form = cls()
        form.keys.choices = {starter.key: str(starter.name) for starter in starters}
        return form
