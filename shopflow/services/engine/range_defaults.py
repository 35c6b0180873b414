"""Ranges of air and power that a shop starts from, until it enters its own."""

from __future__ import annotations

from typing import NamedTuple

from shopflow.models import Fuel, Induction
from shopflow.texts import lazy

Pair = tuple[str, str]

SOURCE = lazy(
    "common practice, no source; of the size that Heywood (1988), sections 2.9 and 2.10, gives, "
    "from memory"
)
INDEX: Pair = ("0.5", "0.6")
"""JSME dictionary of mechanical engineering, entry 11:1002813 (steeply above 0.5); Taylor, from
memory (0.5 to 0.6)."""

PRESSURE: Pair = ("97 kPa", "102.5 kPa")
TEMPERATURE: dict[Induction, Pair] = {
    Induction.NATURAL: ("15 degC", "35 degC"),
    Induction.TURBOCHARGED: ("30 degC", "70 degC"),
    Induction.SUPERCHARGED: ("35 degC", "80 degC"),
}
FILLING: dict[Fuel, Pair] = dict.fromkeys(Fuel, ("80 %", "100 %")) | {Fuel.DIESEL: ("80 %", "95 %")}


class Mixture(NamedTuple):
    """Air over fuel by mass, and fuel consumption at the crankshaft, g/kWh."""

    air_fuel: Pair
    consumption: Pair


MIXTURES: dict[tuple[Fuel, Induction], Mixture] = {
    (Fuel.GASOLINE, Induction.NATURAL): Mixture(("12.2", "13.5"), ("270", "340")),
    (Fuel.GASOLINE, Induction.TURBOCHARGED): Mixture(("11.0", "12.8"), ("290", "380")),
    (Fuel.GASOLINE, Induction.SUPERCHARGED): Mixture(("11.0", "12.8"), ("320", "420")),
    (Fuel.ETHANOL, Induction.NATURAL): Mixture(("7.8", "9.0"), ("400", "500")),
    (Fuel.ETHANOL, Induction.TURBOCHARGED): Mixture(("7.0", "8.5"), ("430", "550")),
    (Fuel.ETHANOL, Induction.SUPERCHARGED): Mixture(("7.0", "8.5"), ("460", "600")),
    (Fuel.METHANOL, Induction.NATURAL): Mixture(("4.6", "5.6"), ("620", "850")),
    (Fuel.METHANOL, Induction.TURBOCHARGED): Mixture(("4.2", "5.4"), ("660", "920")),
    (Fuel.METHANOL, Induction.SUPERCHARGED): Mixture(("4.2", "5.4"), ("700", "980")),
    (Fuel.DIESEL, Induction.NATURAL): Mixture(("18", "24"), ("215", "270")),
    (Fuel.DIESEL, Induction.TURBOCHARGED): Mixture(("18", "26"), ("200", "245")),
    (Fuel.DIESEL, Induction.SUPERCHARGED): Mixture(("18", "26"), ("215", "270")),
}


def typed(fuel: Fuel, induction: Induction) -> dict[str, Pair]:
    """Ends of each range as they would be typed, by the ranges' names."""
    mixture = MIXTURES[fuel, induction]
    low, high = mixture.consumption
    return {
        "index": INDEX,
        "filling": FILLING[fuel],
        "air_fuel": mixture.air_fuel,
        "consumption": (f"{low} g/kWh", f"{high} g/kWh"),
        "temperature": TEMPERATURE[induction],
        "pressure": PRESSURE,
    }
