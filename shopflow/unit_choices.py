"""Units that a shop chooses for single quantities, beside its system of units.

Many a shop measures in millimeters and flows in cfm, or reads its barometer in inches of mercury
and its thermometer in degrees Celsius.
"""

from __future__ import annotations

from collections.abc import Mapping
from functools import lru_cache

from shopflow.units import UNIT_SYSTEMS, UnitSystem

Choices = tuple[tuple[str, str], ...]
"""Pairs of a quantity and the unit chosen for it, in order."""

QUANTITIES: Mapping[str, Mapping[str, Mapping[str, tuple[str, int]]]] = {
    "length": {
        "in": {"lift": ("in", 3), "length": ("in", 4), "seat": ("in", 3)},
        "mm": {"lift": ("mm", 2), "length": ("mm", 3), "seat": ("mm", 2)},
    },
    "area": {
        "in2": {"port area": ("in2", 3)},
        "cm2": {"port area": ("cm2", 3)},
        "mm2": {"port area": ("mm2", 1)},
    },
    "flow": {
        "cfm": {"flow": ("cfm", 1)},
        "L/s": {"flow": ("L/s", 2)},
        "m3/h": {"flow": ("m3/h", 1)},
    },
    "test_pressure": {
        "inH2O": {"test pressure": ("inH2O", 2)},
        "mmH2O": {"test pressure": ("mmH2O", 0)},
        "kPa": {"test pressure": ("kPa", 3)},
        "mbar": {"test pressure": ("mbar", 1)},
    },
    "air_pressure": {
        "inHg": {"air pressure": ("inHg", 2)},
        "kPa": {"air pressure": ("kPa", 2)},
        "hPa": {"air pressure": ("hPa", 1)},
        "mbar": {"air pressure": ("mbar", 1)},
    },
    "temperature": {
        "degF": {"temperature": ("degF", 1)},
        "degC": {"temperature": ("degC", 1)},
    },
    "velocity": {
        "ft/s": {"velocity": ("ft/s", 1)},
        "m/s": {"velocity": ("m/s", 1)},
    },
    "force": {
        "lbf": {"force": ("lbf", 1), "spring rate": ("lbf/in", 1)},
        "N": {"force": ("N", 0), "spring rate": ("N/mm", 2)},
    },
    "boost": {
        "psi": {"boost": ("psi", 1)},
        "bar": {"boost": ("bar", 2)},
        "kPa": {"boost": ("kPa", 0)},
    },
    "power": {
        "hp": {"engine power": ("hp", 0), "consumption": ("lb/hp.h", 3)},
        "kW": {"engine power": ("kW", 0), "consumption": ("g/kWh", 0)},
    },
}
"""Quantities a shop chooses a unit for: what each unit means for the kinds of figures shown."""


@lru_cache(maxsize=256)
def units_chosen(system: str, choices: Choices = ()) -> UnitSystem:
    """A system of units, with the units chosen for single quantities in place of its own.

    `system` is a key of UNIT_SYSTEMS. Raises KeyError for a quantity or a unit there is none of.

    >>> metric = units_chosen("si", (("flow", "cfm"),))
    >>> metric.text(0.1, "flow"), metric.text(0.01, "lift")
    ('211.9 cfm', '10.00 mm')
    """
    base = UNIT_SYSTEMS[system]
    own = {kind: as_ for name, unit in choices for kind, as_ in QUANTITIES[name][unit].items()}
    # Choices that change nothing make no other system: papers of the same units are the same.
    return (
        base if own.items() <= base.choices.items() else UnitSystem(base.name, base.choices | own)
    )


def usual_unit(system: str, quantity: str) -> str:
    """The unit of a quantity in a system of units as it is.

    >>> usual_unit("us", "flow")
    'cfm'
    """
    kinds = UNIT_SYSTEMS[system].choices
    return next(
        unit for unit, figures in QUANTITIES[quantity].items() if figures.items() <= kinds.items()
    )
