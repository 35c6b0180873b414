"""The form of a kind of measurement."""

from __future__ import annotations

from shopflow.models import MeasurementKind, PlaceKind
from shopflow.services.measuring.kinds import DIMENSIONS, MOST_DECIMALS
from shopflow.units import pretty, units_of
from shopflow.web.fields import ChoiceField, CountField, TypedField
from shopflow.web.forms import EditForm

DIMENSION_NAMES = {name: name.capitalize() for name in DIMENSIONS} | {
    "force per length": "Force per length (spring rate)"
}
PLACE_NAMES = {
    PlaceKind.VALVE.value: "Each valve",
    PlaceKind.SEAT.value: "Each valve seat",
    PlaceKind.GUIDE.value: "Each valve guide",
    PlaceKind.SPRING.value: "Each valve spring",
    PlaceKind.CYLINDER.value: "Each cylinder",
    PlaceKind.PORT.value: "Each port",
    PlaceKind.SECTION.value: "Sections of a port",
    PlaceKind.HEAD.value: "The whole head",
}
UNITS = {symbol: f"{pretty(symbol)} ({name})" for name in DIMENSIONS for symbol in units_of(name)}


class KindForm(EditForm):
    """A kind of measurement."""

    name = TypedField("Name", "On sheets, work orders and certificates.", needed=True)
    place_kind = ChoiceField("Measured on", PLACE_NAMES)
    dimension = ChoiceField("Dimension", DIMENSION_NAMES)
    us_unit = ChoiceField("US unit", UNITS)
    us_decimals = CountField("Decimals", f"0 to {MOST_DECIMALS}.", needed=True, default=3)
    si_unit = ChoiceField("SI unit", UNITS, default="mm")
    si_decimals = CountField("Decimals", f"0 to {MOST_DECIMALS}.", needed=True, default=2)
    least = TypedField("Smallest plausible value (optional)", "With its unit. For example 2 mm.")
    greatest = TypedField("Largest plausible value (optional)", "With its unit.")

    @classmethod
    def over(cls, kind: MeasurementKind | None, *, fixed: bool = False) -> KindForm:
        """The form, filled from a kind where there is one; what is fixed is not on it."""
        form = cls(data={"us_unit": "in"}) if kind is None else cls(obj=kind)
        if fixed:
            del form.place_kind, form.dimension
            units = units_of(kind.dimension) if kind else ()
            form.us_unit.choices = form.si_unit.choices = {one: pretty(one) for one in units}
        return form
