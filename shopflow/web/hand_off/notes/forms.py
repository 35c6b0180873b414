"""The form of a hand-off note."""

from __future__ import annotations

from typing import Any

from wtforms import BooleanField, FieldList, FormField, SubmitField
from wtforms import Form as PlainForm

from shopflow.models import HandOffNote, Visit
from shopflow.services.hand_off import notes as hand_off_notes
from shopflow.services.springs import seat_loads
from shopflow.services.springs.seat_loads import seat_on_file
from shopflow.texts import lazy
from shopflow.web.fields import DecimalField, QuantityField, TypedField, WordsField
from shopflow.web.forms import EditForm

FEWEST_FIGURES = 3


class ValveForm(PlainForm):
    """One side's springs and seats."""

    base_seat_load = QuantityField(
        lazy("Base seat load"), "force", lazy("For example 90 lbf or 400 N.")
    )
    port_pressure = QuantityField(
        lazy("Pressure on the valve head"), "pressure", lazy("Boost, or exhaust back pressure.")
    )
    valve_head_diameter = QuantityField(lazy("Valve head diameter"), "length")
    seat_angle = QuantityField(lazy("Seat angle"), "angle", lazy("For example 45 deg."))
    seat_angle_allowance = QuantityField(
        lazy("Added for seat angle"),
        "force",
        lazy(
            "Your own value, 0 for none. Common practice: about 10 lbf more at 39 than at 45 deg."
        ),
    )
    allowance_derived = BooleanField(
        lazy("Derive from seat angle"),
        description=lazy("Base load × (cos of the seat angle ÷ cos 45 deg − 1), without friction."),
    )
    spring_rate = QuantityField(
        lazy("Spring rate"), "force per length", lazy("For example 272 lbf/in or 48 N/mm.")
    )
    installed_height = QuantityField(lazy("Installed height"), "length")
    coil_bind_height = QuantityField(lazy("Coil bind height"), "length")
    valve_lift = QuantityField(lazy("Valve lift"), "length")
    installed_load = QuantityField(
        lazy("Spring load at installed height"),
        "force",
        lazy("As measured on the spring to be fitted."),
    )
    retainer_to_guide = QuantityField(
        lazy("Retainer to guide, valve closed"),
        "length",
        lazy("To the guide or its seal, whichever is closer."),
    )


class EngineForm(PlainForm):
    """Engine builder's data. An empty field means unknown, never zero."""

    gasket_bore = QuantityField(lazy("Gasket bore"), "length", lazy("For example 87.5 mm."))
    gasket_thickness = QuantityField(lazy("Compressed gasket thickness"), "length")
    deck_clearance = QuantityField(
        lazy("Piston below deck"), "length", lazy("Negative if it stands proud; 0 mm if level.")
    )
    piston_dish = QuantityField(
        lazy("Piston dish"), "volume", lazy("Negative for a dome; 0 cm3 if flat.")
    )
    chamber_footprint = QuantityField(
        lazy("Chamber footprint"),
        "area",
        lazy("Only if the chambers were measured before the face was cut."),
    )
    intake_temperature = QuantityField(
        lazy("Intake gas"), "temperature", lazy("For example 60 degC.")
    )
    exhaust_temperature = QuantityField(
        lazy("Exhaust gas before the turbine"), "temperature", lazy("For example 900 degC.")
    )
    fuel_to_air = DecimalField(lazy("Fuel to air, by mass"), lazy("For example 0.08."))
    gas_flow = QuantityField(lazy("Exhaust gas flow"), "mass flow", lazy("For example 200 g/s."))
    turbine_outlet_pressure = QuantityField(
        lazy("Pressure after the turbine"), "pressure", lazy("Gauge pressure.")
    )
    air_pressure = QuantityField(
        lazy("Air pressure at the engine"),
        "pressure",
        lazy("Absolute. For example 850 hPa at 1,450 m."),
        kind="air pressure",
    )


class FigureForm(PlainForm):
    """Any other figure."""

    name = TypedField(lazy("Result"))
    value = TypedField(lazy("Value with unit"))
    working = TypedField(lazy("Source"))


class HandOffForm(EditForm):
    """A hand-off note."""

    addressee = TypedField(lazy("To"), lazy("Who will assemble the engine."))
    intake = FormField(ValveForm)
    exhaust = FormField(ValveForm)
    engine = FormField(EngineForm)
    figures = FieldList(FormField(FigureForm), min_entries=FEWEST_FIGURES, max_entries=40)
    to_check = WordsField(
        lazy("To check before first start"), lazy("One per line, in addition to the usual checks.")
    )
    cautions = WordsField(lazy("Cautions"), lazy("One per line, in addition to the usual ones."))
    notes = WordsField(lazy("Notes"))
    save = SubmitField(lazy("Save note"))
    more_figures = SubmitField(lazy("Add results"))

    @classmethod
    def of(cls, visit: Visit) -> HandOffForm:
        """The form filled from a head's note or, for a new one, from what its job says."""
        return cls(data=_values(visit.hand_off) if visit.hand_off else _defaults(visit))

    @property
    def note_values(self) -> dict[str, Any]:
        """The note's own fields."""
        return {name: self.data[name] for name in hand_off_notes.NOTE}

    @property
    def valve_values(self) -> dict[str, dict[str, Any]]:
        """Each side in which something is typed."""
        sides = {side: self.data[side] for side in seat_loads.SIDES}
        return {side: values for side, values in sides.items() if any(values.values())}

    @property
    def engine_values(self) -> dict[str, Any]:
        """Engine builder's data, as services take them."""
        return dict(self.data["engine"])

    @property
    def figure_values(self) -> list[dict[str, Any]]:
        """The figures in which something is typed."""
        return [values for values in self.data["figures"] if any(values.values())]


def _defaults(visit: Visit) -> dict[str, Any]:
    """Defaults of a new note: boost and lift of the job, valves of the last tests, and the seat
    loads measured."""
    job = visit.job
    loads = {row.side: row.value for row in visit.measurements if row.kind.code == "seat load"}
    diameters = {row.side: row.head_diameter for row in visit.sessions}
    return {
        "intake": {
            "port_pressure": job.boost,
            "valve_head_diameter": diameters.get("intake"),
            "valve_lift": job.intake_lift,
            "installed_load": loads.get("intake"),
            "seat_angle": seat_on_file(visit, "intake"),
        },
        "exhaust": {
            "valve_head_diameter": diameters.get("exhaust"),
            "valve_lift": job.exhaust_lift,
            "installed_load": loads.get("exhaust"),
            "seat_angle": seat_on_file(visit, "exhaust"),
        },
    }


def _values(note: HandOffNote) -> dict[str, Any]:
    values: dict[str, Any] = {name: getattr(note, name) for name in hand_off_notes.NOTE}
    values["version"] = note.version
    for valve in note.valves:
        values[valve.side] = {name: getattr(valve, name) for name in hand_off_notes.VALVE}
    if note.engine is not None:
        values["engine"] = {name: getattr(note.engine, name) for name in hand_off_notes.ENGINE}
    values["figures"] = [
        {name: getattr(figure, name) for name in hand_off_notes.FIGURE} for figure in note.figures
    ]
    return values
