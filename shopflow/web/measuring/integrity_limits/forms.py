"""The form of the limits of one kind of test."""

from __future__ import annotations

from shopflow.services.measuring.integrity_limits import LIMITED
from shopflow.texts import gettext, lazy, translated
from shopflow.web.fields import ChoiceField, QuantityField, TypedField
from shopflow.web.forms import Form
from shopflow.web.measuring.limits.forms import SIDES


class IntegrityLimitForm(Form):
    """Bounds of a kind of test; they replace those set for the side."""

    kind = ChoiceField(lazy("Test"), {}, needed=True)
    side = ChoiceField(lazy("Side"), SIDES)
    least_pressure = QuantityField(
        lazy("Minimum vacuum or pressure (optional)"),
        "pressure",
        lazy("For example 20 inHg."),
        needs_unit=True,
    )
    most_drop = QuantityField(
        lazy("Largest drop (optional)"), "pressure", lazy("For example 1 inHg."), needs_unit=True
    )
    least_duration = QuantityField(
        lazy("Minimum time held (optional)"), "time", lazy("For example 30 s.")
    )
    source = TypedField(lazy("Source (optional)"), lazy("For example workshop manual, page 12."))

    @classmethod
    def offering(cls) -> IntegrityLimitForm:
        """The form with the kinds of test whose numbers a limit can judge."""
        form = cls()
        form.kind.choices = {"": gettext("Choose")} | {
            kind.value: translated(kind).capitalize() for kind in LIMITED
        }
        return form
