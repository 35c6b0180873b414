"""The form of a kind of operation."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField, FieldList, FormField
from wtforms import Form as PlainForm

from shopflow.documents.cautions import BY_HAZARD
from shopflow.models import IntegrityKind, MeasurementKind, OperationKind, TaxClass
from shopflow.services.routing.operation_kinds import FIXED, is_built_in
from shopflow.services.shop.built_in_kinds import EACH_CYLINDER, EACH_PORT, EVERY
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TicksField, TypedField
from shopflow.web.forms import EditForm, Form

A_NUMBER = "number"
PLACES_ASKED = {
    EVERY: lazy("Every place"),
    EACH_CYLINDER: lazy("Each cylinder"),
    EACH_PORT: lazy("Each port"),
    A_NUMBER: lazy("A number of places"),
}


class AskedPart(PlainForm):
    """At how many places one measurement is asked for."""

    how = ChoiceField(lazy("Measure"), {"": lazy("One place"), **PLACES_ASKED})
    count = CountField(lazy("Number of places"), least=2)


class PlacesForm(Form):
    """At how many places a step asks for each of its measurements."""

    rows = FieldList(FormField(AskedPart))

    @classmethod
    def over(cls, kind: OperationKind) -> PlacesForm:
        """The form, a row for each measurement the step asks for."""
        rows = []
        for code in kind.asks_for:
            where = kind.asks_where.get(code, "")
            counted = where.isdecimal()
            rows.append({"how": A_NUMBER if counted else where, "count": where if counted else ""})
        return cls(data={"rows": rows})

    def places_asked(self, kind: OperationKind) -> dict[str, str]:
        """The places by the measurement's code, as the service takes them."""
        return {
            code: str(row.form.count.data or "") if row.form.how.data == A_NUMBER
            else row.form.how.data
            for code, row in zip(kind.asks_for, self.rows, strict=False)
        }  # fmt: skip


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
    tax_class = ChoiceField(
        lazy("Tax class"), TaxClass, lazy("Of this work on quotes and invoices."),
        default=TaxClass.STANDARD.value,
    )  # fmt: skip

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
