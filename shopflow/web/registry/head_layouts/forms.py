"""The forms of a head layout and of a usual value."""

from __future__ import annotations

from collections.abc import Sequence

from shopflow.models import EngineType, MeasurementKind
from shopflow.models.places import EACH_VALVE
from shopflow.services.registry import head_layouts
from shopflow.texts import gettext, lazy
from shopflow.web.fields import ChoiceField, CountField, TypedField
from shopflow.web.forms import Form

SIDES = {"": lazy("Intake and exhaust"), "intake": lazy("Intake"), "exhaust": lazy("Exhaust")}
NAMED = lazy(
    "From front to rear, separated by commas. For example front, rear. Leave one valve blank."
)
PORTS = lazy(
    "Blank for one per cylinder. For example 1, 2+3, 4 or {each_valve}.", each_valve=EACH_VALVE
)


class LayoutForm(Form):
    """Cylinders, valves and ports of one head of an engine type."""

    cylinders_per_head = CountField(lazy("Cylinders in one head"), least=1, needed=True)
    intake_valves = TypedField(lazy("Intake valves of a cylinder"), NAMED)
    exhaust_valves = TypedField(lazy("Exhaust valves of a cylinder"), NAMED)
    intake_ports = TypedField(lazy("Intake ports (optional)"), PORTS)
    exhaust_ports = TypedField(lazy("Exhaust ports (optional)"), PORTS)

    @classmethod
    def over(cls, row: EngineType) -> LayoutForm:
        """The form filled with the layout recorded, or one to start from."""
        return cls(data=head_layouts.suggested(row))


class UsualForm(Form):
    """Usual value of a kind of measurement; it replaces the one set for the same valves."""

    kind_id = ChoiceField(lazy("Measurement"), {}, needed=True)
    side = ChoiceField(lazy("Side"), SIDES)
    valve = ChoiceField(lazy("Valve"), {})
    value = TypedField(
        lazy("Usual value"), lazy("With its unit. For example 1.80 in or 39 deg."), needed=True
    )
    source = TypedField(lazy("Source (optional)"), lazy("For example workshop manual, page 12."))

    @classmethod
    def offering(cls, kinds: Sequence[MeasurementKind], row: EngineType) -> UsualForm:
        """The form with these kinds and the engine type's valves on offer."""
        form = cls()
        form.kind_id.choices = {"": gettext("Choose")} | {str(kind.id): kind.name for kind in kinds}
        names = {name: name.capitalize() for name in row.named_valves}
        form.valve.choices = {"": gettext("All valves of the side")} | names
        return form
