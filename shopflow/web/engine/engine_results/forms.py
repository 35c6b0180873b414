"""The form of a reported result."""

from __future__ import annotations

from datetime import date

from shopflow.models import PowerAt, ResultKind
from shopflow.texts import lazy
from shopflow.web.fields import ChoiceField, DayField, QuantityField, TypedField, WordsField
from shopflow.web.forms import EditForm


class EngineResultForm(EditForm):
    """Result that a customer reported of the engine."""

    day = DayField(lazy("Day"), needed=True)
    kind = ChoiceField(lazy("Where"), ResultKind, needed=True)
    power = QuantityField(
        lazy("Greatest power (optional)"),
        "power",
        lazy("For example 214 hp or 160 kW."),
        kind="engine power",
    )
    power_at = ChoiceField(
        lazy("Power measured at"),
        PowerAt,
        lazy("Only power at the crankshaft is compared with a forecast."),
    )
    speed = QuantityField(
        lazy("At engine speed (optional)"), "speed of rotation", lazy("For example 6400 rpm.")
    )
    boost = QuantityField(lazy("Boost (optional)"), "pressure", lazy("Gauge pressure."))
    fuel = TypedField(lazy("Fuel (optional)"), lazy("For example pump gasoline, 98 RON."))
    air_temperature = QuantityField(lazy("Air temperature (optional)"), "temperature")
    air_pressure = QuantityField(
        lazy("Air pressure (optional)"), "pressure", lazy("Absolute."), kind="air pressure"
    )
    elapsed_time = QuantityField(
        lazy("Elapsed time (optional)"), "time", lazy("For example 11.42 s.")
    )
    end_speed = QuantityField(
        lazy("Speed at the end (optional)"),
        "velocity",
        lazy("For example 118 mph or 190 km/h."),
        needs_unit=True,
    )
    source = TypedField(lazy("Source (optional)"), lazy("For example dynamometer sheet, run 3."))
    notes = WordsField(lazy("Notes (optional)"))

    @classmethod
    def new(cls, day: date, fuel: str) -> EngineResultForm:
        """An empty form of today, with the job's fuel."""
        return cls(data={"day": day, "fuel": fuel})
