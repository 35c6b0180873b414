"""The shop's settings as a form."""

from __future__ import annotations

from functools import cache
from typing import Any
from zoneinfo import available_timezones

from wtforms import BooleanField, Field

from shopflow.documents import countries
from shopflow.services.shop.settings import PAPER_SIZES
from shopflow.texts import LANGUAGES, SOURCE, gettext, lazy
from shopflow.unit_choices import QUANTITIES
from shopflow.units import UNIT_SYSTEMS, pretty
from shopflow.web.fields import (
    ChoiceField,
    DecimalField,
    QuantityField,
    ShimsField,
    TypedField,
    WordsField,
)
from shopflow.web.forms import EditForm, Form

REGIONS = (
    "Africa",
    "America",
    "Antarctica",
    "Asia",
    "Atlantic",
    "Australia",
    "Europe",
    "Indian",
    "Pacific",
)


def zones() -> dict[str, str | dict[str, str]]:
    """Time zones by region, for a grouped list."""
    return {"": gettext("Choose"), "UTC": "UTC", **_regions()}


@cache
def _regions() -> dict[str, dict[str, str]]:
    groups: dict[str, dict[str, str]] = {region: {} for region in REGIONS}
    for name in sorted(available_timezones()):
        region, _, city = name.partition("/")
        if region in groups:
            groups[region][name] = city.replace("_", " ").replace("/", ", ")
    return groups


class ShopBasics(Form):
    """Settings that a shop needs before it can start."""

    name = TypedField(lazy("Shop's name"), lazy("Printed on documents."), needed=True)
    language = ChoiceField(
        lazy("Language"),
        LANGUAGES,
        lazy("Spelling and date order on screens."),
        default=SOURCE,
        render_kw={"translate": "no"},
    )
    time_zone = ChoiceField(
        lazy("Time zone"),
        zones,
        lazy("Times are shown in this zone."),
        needed=True,
        render_kw={"translate": "no"},
    )
    unit_system = ChoiceField(
        lazy("Units"),
        {code: lazy(system.name) for code, system in UNIT_SYSTEMS.items()},
        lazy("Results are shown in these units. You can type any unit."),
        default="us",
    )
    paper_size = ChoiceField(
        lazy("Paper size"), {size: size for size in PAPER_SIZES}, default="Letter"
    )
    currency = TypedField(
        lazy("Currency"), lazy("Three-letter code. For example USD."), default="USD"
    )
    tax_rate_percent = DecimalField(
        lazy("Sales tax in percent"), lazy("Enter 0 for none."), default=0
    )

    SHOP = (
        "name",
        "language",
        "time_zone",
        "unit_system",
        "paper_size",
        "currency",
        "tax_rate_percent",
    )

    @property
    def shop_values(self) -> dict[str, Any]:
        """The fields that are the shop's."""
        return {name: self.data[name] for name in self.SHOP}


class UnitField(ChoiceField):
    """The unit of one quantity: that of the shop's system of units, or another."""

    def __init__(self, label: str, quantity: str, **kwargs: Any) -> None:
        units = {unit: pretty(unit) for unit in QUANTITIES[quantity]}
        super().__init__(label, {"": lazy("As above")} | units, **kwargs)


class ShopForm(EditForm, ShopBasics):
    """Every setting."""

    length_unit = UnitField(lazy("Lengths"), "length")
    area_unit = UnitField(lazy("Areas"), "area")
    flow_unit = UnitField(lazy("Flow"), "flow")
    test_pressure_unit = UnitField(lazy("Test pressure"), "test_pressure")
    air_pressure_unit = UnitField(lazy("Barometer"), "air_pressure")
    temperature_unit = UnitField(lazy("Temperature"), "temperature")
    velocity_unit = UnitField(lazy("Velocity"), "velocity")
    force_unit = UnitField(lazy("Spring loads"), "force")
    boost_unit = UnitField(lazy("Boost"), "boost")
    power_unit = UnitField(lazy("Engine power"), "power")

    @property
    def units(self) -> list[Field]:
        """The fields that choose a unit of one quantity."""
        return [self[f"{quantity}_unit"] for quantity in QUANTITIES]

    reduced_tax_rate_percent = DecimalField(
        lazy("Reduced tax rate in percent"), lazy("Of lines in the reduced tax class."), default=0
    )
    exempt_reason = TypedField(
        lazy("Reason for exempt lines (optional)"),
        lazy("Printed where a line is in the exempt tax class."),
    )
    uses_parts = BooleanField(
        lazy("Keep parts: catalog, stock, purchase orders, and work sent out")
    )
    altitude = QuantityField(
        lazy("Altitude (optional)"),
        "length",
        lazy(
            "Above sea level, for example 1600 m or 5280 ft. It guards the barometer: one "
            "corrected to sea level is pointed out."
        ),
        needs_unit=True,
    )
    bench_day_reminder = BooleanField(
        lazy("Remind of bench checks"),
        description=lazy("While the day's warm-up, leak check or plate check is missing."),
        default=True,
    )
    spring_shims = ShimsField(
        lazy("Spring shims on hand (optional)"),
        lazy(
            "Thicknesses, separated by commas. For example 0.015 in, 0.030 in, 0.060 in. Without "
            "them shims are stated in steps of 0.005 in or 0.1 mm."
        ),
    )
    address = WordsField(lazy("Address"), rows=4)
    country = ChoiceField(
        lazy("Country (optional)"),
        lambda: {"": gettext("Choose"), **countries.names()},
        lazy("In the EU, House style then offers electronic invoices."),
        default="",
        render_kw={"translate": "no"},
    )
    phone = TypedField(lazy("Telephone"), render_kw={"type": "tel"})
    email = TypedField(lazy("E-mail"), render_kw={"type": "email"})
    web_address = TypedField(
        lazy("Address of this app"),
        lazy(
            "The address people in the shop use. For example http://192.168.1.20:8460. The codes "
            "on documents link to it."
        ),
    )
