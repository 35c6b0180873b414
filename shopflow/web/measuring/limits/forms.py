"""The form of one limit."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import MeasurementKind
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, TypedField
from shopflow.web.forms import Form

SIDES = {"": lazy("Intake and exhaust"), "intake": lazy("Intake"), "exhaust": lazy("Exhaust")}


class LimitForm(Form):
    """Between what a kind of figure must be; it takes the place of what is set for the side."""

    kind_id = ChoiceField(lazy("Measurement"), {}, needed=True)
    side = ChoiceField(lazy("Side"), SIDES)
    lower = TypedField(
        lazy("Minimum (optional)"), lazy("With its unit. For example 0.0015 in or 0.04 mm.")
    )
    upper = TypedField(lazy("Maximum (optional)"), lazy("With its unit."))
    source = TypedField(lazy("Source"), lazy("For example workshop manual, page 12."))

    @classmethod
    def offering(cls, kinds: Sequence[MeasurementKind]) -> LimitForm:
        """The form with these kinds of figure on offer."""
        form = cls()
        form.kind_id.choices = {"": gettext("Choose")} | {str(kind.id): kind.name for kind in kinds}
        return form
