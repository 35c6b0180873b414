"""The form of a kind of operation."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField

from shopflow.models import IntegrityKind, MeasurementKind, OperationKind
from shopflow.papers.cautions import BY_HAZARD
from shopflow.services.operation_kinds import FIXED, is_built_in
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TicksField, TypedField
from shopflow.web.forms import EditForm


class KindForm(EditForm):
    """A kind of operation."""

    name = TypedField("Name", "As it stands on work orders and quotes.", needed=True)
    cuts_metal = BooleanField("Cuts metal: not begun before the customer has approved it")
    cautions = TicksField("What can hurt", "Each prints its caution on the work order.")
    asks_for = TicksField("Figures it asks for at sign-off")
    tests_by = ChoiceField(
        "Result it needs at sign-off", {"": "none", **{kind: kind for kind in IntegrityKind}}
    )
    usual_minutes = CountField("Usual minutes", needed=True)
    usual_price = MoneyField("Usual price (optional)", "Blank: priced job by job. 0.00: no charge.")

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
