"""The form of a part that a head needs."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField

from shopflow.models import Job, Part
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, DecimalField, MoneyField, TypedField
from shopflow.web.forms import Form
from shopflow.web.rights import may


class NeedForm(Form):
    """A part of the catalog, or one that the customer brings."""

    head = ChoiceField(lazy("For"), {})
    operation_id = ChoiceField(
        lazy("Step that needs it (optional)"), {}, lazy("The part is then for that step's head.")
    )
    part_id = ChoiceField(lazy("Part"), {})
    is_customers_own = BooleanField(lazy("The customer brings it"))
    description = TypedField(
        lazy("Description (optional)"), lazy("Of a part that the customer brings.")
    )
    quantity = DecimalField(lazy("Quantity"), default="1")
    unit_price = MoneyField(
        lazy("Unit price (optional)"), lazy("Before tax. Blank for the price of the catalog.")
    )

    @classmethod
    def of(cls, job: Job, parts: list[Part], head: str) -> NeedForm:
        """The form with the heads and steps of a job."""
        form = cls(data={"head": head, "quantity": "1"})
        form.head.choices = {
            "": gettext("Whole job"),
            **{visit.tag: f"{visit.tag}, {visit.head.engine_type.title}" for visit in job.heads},
        }
        steps = [
            step for visit in job.heads for step in visit.operations
            if step.is_open and (not head or visit.tag == head)
        ]  # fmt: skip
        form.operation_id.choices = {
            "": gettext("Not said"),
            **{str(step.id): f"{step.job_head.tag}, {step.kind.name}" for step in steps},
        }
        form.part_id.choices = {
            "": gettext("Choose"),
            **{str(part.id): part.title for part in parts},
        }
        if not may("jobs.approve"):
            del form.unit_price
        return form

    @property
    def need_values(self) -> dict[str, Any]:
        """The values for the service; the description of the catalog is not typed over."""
        values = dict(self.values)
        if not values["is_customers_own"]:
            values.pop("description")
        return values
