"""The form of an engine type."""

from __future__ import annotations

from typing import Any

from shopflow.models import Cooling, EngineType
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, CountField, QuantityField, TypedField, WordsField
from shopflow.web.forms import EditForm


class EngineTypeForm(EditForm):
    """A kind of engine, as the shop writes it."""

    builder = TypedField(lazy("Builder"), needed=True)
    family = TypedField(lazy("Family"), lazy("Code or name of this engine."), needed=True)
    aliases = WordsField(
        lazy("Other names"),
        lazy("Any other name people use, one per line. Search finds the engine by each."),
    )
    displacement = QuantityField(
        lazy("Displacement"), "volume", lazy("For example 1792 cm3 or 342 in3.")
    )
    bore = QuantityField(lazy("Bore"), "length", lazy("For example 80.5 mm or 4.060 in."))
    stroke = QuantityField(lazy("Stroke"), "length", lazy("For example 88.0 mm or 3.300 in."))
    cylinders = CountField(lazy("Cylinders"), least=1, needed=True)
    valves_per_cylinder = CountField(lazy("Valves per cylinder"), least=2, needed=True, default=2)
    cooling = ChoiceField(lazy("Cooling"), Cooling, default=Cooling.WATER.value)
    fuel = TypedField(lazy("Fuel"))
    notes = WordsField(lazy("Notes"))

    @classmethod
    def over(cls, row: EngineType) -> EngineTypeForm:
        """The form filled from an engine type, its other names one per line."""
        names: dict[str, Any] = {"aliases": "\n".join(alias.name for alias in row.aliases)}
        columns = {name: getattr(row, name) for name in cls()._fields if hasattr(row, name)}
        return cls(data={**columns, **names})
