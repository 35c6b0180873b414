"""The form of a set of ranges."""

from __future__ import annotations

from typing import Any

from shopflow.services.engine.ranges import ENDS, NAMES, RangeSet
from shopflow.texts import lazy
from shopflow.web.fields import QuantityField, TypedField
from shopflow.web.forms import EditForm

FROM, TO = lazy("From"), lazy("To")


class EngineRangesForm(EditForm):
    """Low and high end of every range."""

    index_low = TypedField(FROM, needed=True)
    index_high = TypedField(TO, needed=True)
    filling_low = QuantityField(FROM, "ratio", needed=True)
    filling_high = QuantityField(TO, "ratio", needed=True)
    air_fuel_low = TypedField(FROM, needed=True)
    air_fuel_high = TypedField(TO, needed=True)
    consumption_low = QuantityField(FROM, "specific consumption", needed=True)
    consumption_high = QuantityField(TO, "specific consumption", needed=True)
    temperature_low = QuantityField(FROM, "temperature", needed=True)
    temperature_high = QuantityField(TO, "temperature", needed=True)
    pressure_low = QuantityField(FROM, "pressure", needed=True, kind="air pressure")
    pressure_high = QuantityField(TO, "pressure", needed=True, kind="air pressure")
    source = TypedField(
        lazy("Source (optional)"), lazy("For example eleven dynamometer runs of last season.")
    )

    @classmethod
    def over(cls, held: RangeSet) -> EngineRangesForm:
        """The form filled from a set."""
        ends: dict[str, Any] = {
            f"{name}_{end}": quantity
            for name, pair in held.ends.items()
            for end, quantity in zip(ENDS, pair, strict=True)
        }
        row = held.row
        version = {"version": str(row.version)} if row is not None else {}
        return cls(data={**ends, **version, "source": row.source if row is not None else ""})

    @property
    def pairs(self) -> list[tuple[str, Any, Any]]:
        """Name of each range with its two fields."""
        return [
            (str(words), self[f"{name}_low"], self[f"{name}_high"]) for name, words in NAMES.items()
        ]
