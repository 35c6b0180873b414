"""The form of a price on the list."""

from __future__ import annotations

from collections.abc import Sequence

from wtforms import BooleanField

from shopflow.models import EngineType, OperationKind, PriceEntry, TaxClass
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, CountField, MoneyField, TypedField
from shopflow.web.forms import EditForm


class PriceForm(EditForm):
    """A price of a step or a part."""

    kind_id = ChoiceField(lazy("Step type"), {}, lazy("Leave as it is for a part."))
    description = TypedField(
        lazy("Part (optional)"), lazy("For example Valve guide, bronze. Blank for a step.")
    )
    part_number = TypedField(lazy("Part number (optional)"))
    unit = TypedField(lazy("Unit (optional)"), lazy("For example pc."))
    engine_type_id = ChoiceField(lazy("Engine type"), {})
    valves = CountField(lazy("Valves (optional)"), lazy("Only heads with so many valves."), least=1)
    price = MoneyField(lazy("Price before tax"), needed=True)
    per_valve = BooleanField(lazy("Price of each valve of the head"))
    tax_class = ChoiceField(
        lazy("Tax class"), TaxClass, lazy("Of a part; a step has that of its type."),
        default=TaxClass.STANDARD.value,
    )  # fmt: skip

    @classmethod
    def over(
        cls,
        entry: PriceEntry | None,
        kinds: Sequence[OperationKind],
        engine_types: Sequence[EngineType],
    ) -> PriceForm:
        """The form, filled from a price where there is one."""
        form = cls(obj=entry)
        form.kind_id.choices = {
            "": gettext("A part"),
            **{str(kind.id): kind.name for kind in kinds},
        }
        form.engine_type_id.choices = {
            "": gettext("Any"),
            **{str(row.id): row.title for row in engine_types},
        }
        return form
