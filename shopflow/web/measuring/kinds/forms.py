"""The form of a kind of measurement."""

from __future__ import annotations

from shopflow.models import MeasurementKind, PlaceKind
from shopflow.services.measuring.kinds import DIMENSIONS, MOST_DECIMALS
from shopflow.texts import lazy
from shopflow.units import CONDITION, pretty, units_of
from shopflow.web.fields import ChoiceField, CountField, TypedField
from shopflow.web.forms import EditForm

DIMENSION_NAMES = {
    "length": lazy("Length"),
    "area": lazy("Area"),
    "volume": lazy("Volume"),
    "angle": lazy("Angle"),
    "force": lazy("Force"),
    "force per length": lazy("Force per length (spring rate)"),
    "pressure": lazy("Pressure"),
    "mass": lazy("Mass"),
    CONDITION: lazy("Condition (good, repaired or damaged)"),
}
PLACE_NAMES = {
    PlaceKind.VALVE.value: lazy("Each valve"),
    PlaceKind.SEAT.value: lazy("Each valve seat"),
    PlaceKind.GUIDE.value: lazy("Each valve guide"),
    PlaceKind.SPRING.value: lazy("Each valve spring"),
    PlaceKind.CYLINDER.value: lazy("Each cylinder"),
    PlaceKind.PORT.value: lazy("Each port"),
    PlaceKind.SECTION.value: lazy("Sections of a port"),
    PlaceKind.HEAD.value: lazy("The whole head"),
}
UNITS = {
    symbol: lazy("{unit} ({dimension})", unit=pretty(symbol), dimension=lazy(name))
    for name in DIMENSIONS
    for symbol in units_of(name)
}


class KindForm(EditForm):
    """A kind of measurement."""

    name = TypedField(lazy("Name"), lazy("On sheets, work orders and certificates."), needed=True)
    place_kind = ChoiceField(lazy("Measured on"), PLACE_NAMES)
    dimension = ChoiceField(lazy("Dimension"), DIMENSION_NAMES)
    us_unit = ChoiceField(lazy("US unit"), UNITS)
    us_decimals = CountField(
        lazy("Decimals"), lazy("0 to {most}.", most=MOST_DECIMALS), needed=True, default=3
    )
    si_unit = ChoiceField(lazy("SI unit"), UNITS, default="mm")
    si_decimals = CountField(
        lazy("Decimals"), lazy("0 to {most}.", most=MOST_DECIMALS), needed=True, default=2
    )
    least = TypedField(
        lazy("Smallest plausible value (optional)"), lazy("With its unit. For example 2 mm.")
    )
    greatest = TypedField(lazy("Largest plausible value (optional)"), lazy("With its unit."))
    uncertainty = TypedField(
        lazy("Uncertainty, ± (optional)"),
        lazy(
            "The most a measurement here is off, 95 times in 100: tool, hand and repeats. With its "
            "unit, or in percent. For example 0.05 mm or 2 %."
        ),
    )

    @classmethod
    def over(cls, kind: MeasurementKind | None, *, fixed: bool = False) -> KindForm:
        """The form, filled from a kind where there is one; what is fixed is not on it."""
        form = cls(data={"us_unit": "in"}) if kind is None else cls(obj=kind)
        if fixed:
            del form.place_kind, form.dimension
            units = units_of(kind.dimension) if kind else ()
            form.us_unit.choices = form.si_unit.choices = {unit: pretty(unit) for unit in units}
        return form
