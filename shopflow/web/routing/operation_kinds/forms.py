"""The form of a kind of operation."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField

from shopflow.documents.cautions import BY_HAZARD
from shopflow.models import IntegrityKind, MeasurementKind, OperationKind
from shopflow.services.routing.operation_kinds import FIXED, is_built_in
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TicksField, TypedField
from shopflow.web.forms import EditForm


class KindForm(EditForm):
    """A kind of operation."""

    name = TypedField(lazy("Name"), lazy("Printed on work orders and quotes."), needed=True)
    cuts_metal = BooleanField(lazy("Cuts metal (needs the customer's approval first)"))
    cautions = TicksField(lazy("Hazards"), lazy("The work order prints a caution for each."))
    asks_for = TicksField(lazy("Measurements required at sign-off"))
    tests_by = ChoiceField(
        lazy("Test result required at sign-off"),
        {"": lazy("none"), **{kind: kind for kind in IntegrityKind}},
    )
    usual_minutes = CountField(lazy("Usual minutes"), needed=True)
    usual_price = MoneyField(
        lazy("Usual price (optional)"), lazy("Leave blank to price each job; 0.00 for no charge.")
    )

    @classmethod
    def over(cls, kind: OperationKind | None, figures: Sequence[MeasurementKind]) -> KindForm:
        """The form, filled from a kind where there is one; a built-in one keeps what is fixed."""
        form = cls(obj=kind, data={"tests_by": (kind and kind.tests_by) or ""})
        form.cautions.choices = {
            hazard: text.partition(":")[0] for hazard, text in BY_HAZARD.items()
        }
        form.asks_for.choices = {figure.code: figure.name for figure in figures}
        if kind is not None and is_built_in(kind):
            for name in FIXED:
                del form[name]
        return form
