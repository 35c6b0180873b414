"""Quantities as people type them, and their SI values.

SI is used inside; conversion happens only where people read or type. A quantity keeps the text it
was typed as beside its SI value, so that a record can always be shown as it was typed.

Factors: NIST SP 811 (2008), appendix B. The inch of water is the conventional one
(249.08891 Pa), the inch of mercury the conventional 3386.389 Pa.
"""

from __future__ import annotations

import difflib
import math
import re
from dataclasses import dataclass
from functools import lru_cache

from shopflow.texts import gettext, gettext_noop, translated

INCH = 0.0254
FOOT = 0.3048
MILE = 5280 * FOOT
POUND = 0.45359237
STANDARD_GRAVITY = 9.80665
POUND_FORCE = POUND * STANDARD_GRAVITY


class UnitError(ValueError):
    """A quantity that cannot be read; the message says what to type instead."""


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit: SI value = `scale` * number + `offset`."""

    symbol: str
    dimension: str
    scale: float
    offset: float = 0.0


def _table() -> dict[str, Unit]:
    by_dimension: dict[str, dict[str, float]] = {
        "length": {"mm": 1e-3, "cm": 1e-2, "m": 1.0, "in": INCH, "ft": FOOT},
        "area": {"mm2": 1e-6, "cm2": 1e-4, "m2": 1.0, "in2": INCH**2},
        "volume": {"cm3": 1e-6, "cc": 1e-6, "in3": INCH**3, "L": 1e-3},
        "volume flow": {"L/s": 1e-3, "m3/h": 1 / 3600, "m3/s": 1.0, "cfm": FOOT**3 / 60},
        "pressure": {
            "Pa": 1.0,
            "kPa": 1e3,
            "hPa": 100.0,
            "mbar": 100.0,
            "bar": 1e5,
            "inH2O": 249.08891,
            "mmH2O": STANDARD_GRAVITY,
            "inHg": 3386.389,
            "psi": POUND_FORCE / INCH**2,
        },
        "angle": {"deg": math.pi / 180},
        "ratio": {"%": 1e-2},
        "mass flow": {"g/s": 1e-3, "kg/s": 1.0},
        "mass": {"g": 1e-3, "kg": 1.0, "lb": POUND},
        "force": {"N": 1.0, "lbf": POUND_FORCE},
        "force per length": {"N/mm": 1e3, "N/m": 1.0, "lbf/in": POUND_FORCE / INCH},
        "torque": {
            "N.m": 1.0,
            "N.mm": 1e-3,
            "lbf.ft": POUND_FORCE * FOOT,
            "lbf.in": POUND_FORCE * INCH,
        },
        "velocity": {"m/s": 1.0, "ft/s": FOOT, "km/h": 1 / 3.6, "mph": MILE / 3600},
        "power": {"W": 1.0, "kW": 1e3, "hp": 550 * POUND_FORCE * FOOT},
        "specific consumption": {
            "g/kWh": 1e-3 / 3.6e6,
            "lb/hp.h": POUND / (550 * POUND_FORCE * FOOT * 3600),
        },
        "speed of rotation": {"rpm": 1 / 60},
        "density": {"kg/m3": 1.0, "lb/ft3": POUND / FOOT**3},
        "time": {"s": 1.0, "min": 60.0, "h": 3600.0},
    }
    table = {
        symbol: Unit(symbol, dimension, scale)
        for dimension, scales in by_dimension.items()
        for symbol, scale in scales.items()
    }
    table["K"] = Unit("K", "temperature", 1.0)
    table["degC"] = Unit("degC", "temperature", 1.0, 273.15)
    table["degF"] = Unit("degF", "temperature", 5 / 9, 459.67 * 5 / 9)
    return table


UNITS = _table()
"""Every unit by the symbol it is typed as."""

_NUMBER = r"[+-]?(?:[0-9]+(?:\.[0-9]*)?|\.[0-9]+)(?:[eE][+-]?[0-9]+)?"
_SYMBOL = re.compile(r"(?<![\w./])[A-Za-z][A-Za-z0-9/.]*(?![\w/])")
_COMMA = re.compile(r"[0-9],[0-9]")
_QUANTITY = re.compile(rf"\s*({_NUMBER})\s*(\S*)\s*")
LONGEST_TEXT = 60
"""Characters of a quantity as typed."""

CONDITION = gettext_noop("condition")
"""Dimension of what is judged by eye, not measured: a choice of words without a unit."""

CONDITIONS = (gettext_noop("good"), gettext_noop("repaired"), gettext_noop("damaged"))
"""Those words, the best first; the SI value of a word is its place among them, from 1."""


@dataclass(frozen=True, slots=True)
class Quantity:
    """A quantity as typed (`text`, "28 inH2O") and in SI (`si`, 6974.48948)."""

    text: str
    si: float

    @property
    def unit(self) -> str:
        """The symbol of the unit it was typed in; empty for a condition."""
        return "" if self.text in CONDITIONS else split(self.text)[1]

    @property
    def number(self) -> str:
        """The number as it was typed; the word of a condition."""
        return self.text if self.text in CONDITIONS else split(self.text)[0]

    def __str__(self) -> str:
        return self.text


def units_of(dimension: str) -> tuple[str, ...]:
    """Symbols of every unit of a dimension, as "length"."""
    return tuple(unit.symbol for unit in UNITS.values() if unit.dimension == dimension)


def split(text: str, example: str = "28 inH2O") -> tuple[str, str]:
    """Split "28 inH2O" into "28" and "inH2O"; `example` is what the refusal shows.

    Raises UnitError where the text is not a number followed by a unit.
    """
    if len(text) > LONGEST_TEXT:
        # The search for a match would take for ever.
        raise UnitError(
            gettext("'{text}…' is too long to be a number and a unit", text=text[:LONGEST_TEXT])
        )
    match = _QUANTITY.fullmatch(text)
    if match is None:
        if _COMMA.search(text):
            raise UnitError(
                gettext("'{text}' has a comma; write decimals with a point, as 0.05", text=text)
            )
        raise UnitError(
            gettext(
                "'{text}' is not a number and a unit, as '{example}'", text=text, example=example
            )
        )
    return match[1], match[2]


def unit(symbol: str, dimension: str, among: tuple[str, ...] | None = None) -> Unit:
    """The unit with this symbol, where it is `among` those allowed (all of the dimension's).

    Raises UnitError where there is none or it measures another dimension; the message names the
    nearest one that fits.
    """
    candidate = UNITS.get(symbol)
    fitting = among or units_of(dimension)
    if candidate is not None and symbol in fitting:
        return candidate
    if candidate is not None and candidate.dimension == dimension:
        raise UnitError(
            gettext(
                "'{symbol}' is not used here; use one of {fitting}",
                symbol=symbol,
                fitting=", ".join(fitting),
            )
        )
    if candidate is not None:
        message = gettext(
            "'{symbol}' is a unit of {its}, not of {wanted}",
            symbol=symbol,
            its=translated(candidate.dimension),
            wanted=translated(dimension),
        )
    else:
        message = (
            gettext("unknown unit '{symbol}'", symbol=symbol)
            if symbol
            else gettext("the unit is missing")
        )
        folded = {name.lower(): name for name in fitting}
        near = difflib.get_close_matches(symbol.lower(), folded, n=1)
        if near:
            raise UnitError(
                gettext("{fault}; did you mean '{folded}'?", fault=message, folded=folded[near[0]])
            )
    raise UnitError(
        gettext("{fault}; use one of {fitting}", fault=message, fitting=", ".join(fitting))
    )


EXAMPLES = {
    "length": "44 mm",
    "area": "620 mm2",
    "volume": "52 cm3",
    "volume flow": "212 cfm",
    "angle": "45 deg",
    "ratio": "2 %",
    "mass flow": "120 g/s",
    "mass": "38 g",
    "force": "110 lbf",
    "force per length": "40 N/mm",
    "torque": "90 N.m",
    "velocity": "95 m/s",
    "power": "300 hp",
    "specific consumption": "300 g/kWh",
    "speed of rotation": "6500 rpm",
    "density": "1.2 kg/m3",
    "time": "15 min",
    "temperature": "20 degC",
}
"""A quantity of each dimension, as a refusal shows one; of a pressure it is "28 inH2O"."""


@lru_cache(maxsize=4096)
def parse(text: str, dimension: str, among: tuple[str, ...] | None = None) -> Quantity:
    """Read a quantity of a dimension, as parse("28 inH2O", "pressure").

    `among` narrows the units allowed. Raises UnitError on anything but a finite decimal number
    and a unit of that dimension.

    >>> parse("1 in", "length").si
    0.0254
    >>> parse("Repaired", "condition")
    Quantity(text='repaired', si=2.0)
    """
    if dimension == CONDITION:
        return _condition(text)
    number, symbol = split(text, EXAMPLES.get(dimension, "28 inH2O"))
    value = to_si(float(number), unit(symbol, dimension, among).symbol)
    if not math.isfinite(value):
        raise UnitError(gettext("'{text}' is too large a number", text=text))
    return Quantity(text, value)


def _condition(text: str) -> Quantity:
    word = text.strip().lower()
    if word not in CONDITIONS:
        raise UnitError(
            gettext(
                "'{text}' is not a condition: enter {choices}",
                text=text,
                choices=", ".join(CONDITIONS),
            )
        )
    return Quantity(word, CONDITIONS.index(word) + 1.0)


def to_si(value: float, symbol: str) -> float:
    """SI value of a number in a unit."""
    chosen = UNITS[symbol]
    return value * chosen.scale + chosen.offset


def from_si(value: float, symbol: str) -> float:
    """The number an SI value has in a unit; the inverse of `to_si`."""
    chosen = UNITS[symbol]
    return (value - chosen.offset) / chosen.scale


DISPLAY_SYMBOLS = {
    "mm2": "mm²",
    "cm2": "cm²",
    "m2": "m²",
    "in2": "in²",
    "cm3": "cm³",
    "in3": "in³",
    "m3/h": "m³/h",
    "m3/s": "m³/s",
    "inH2O": "inH₂O",
    "mmH2O": "mmH₂O",
    "degC": "°C",
    "degF": "°F",
    "deg": "°",
    "kg/m3": "kg/m³",
    "lb/ft3": "lb/ft³",
    "N.m": "N·m",
    "N.mm": "N·mm",
    "lbf.in": "lbf·in",
    "m2/s": "m²/s",
    "lbf.ft": "lbf·ft",
    "lb/hp.h": "lb/(hp·h)",
}
"""Printed symbols of units that are not printed as they are typed."""


def pretty(symbol: str) -> str:
    """A unit symbol as it is printed: "mm2" as "mm²"."""
    return DISPLAY_SYMBOLS.get(symbol, symbol)


def pretty_text(text: str) -> str:
    """Typed quantities with their units as they are printed.

    >>> pretty_text("43.6 to 44.6 cm3")
    '43.6 to 44.6 cm³'
    >>> pretty_text("45 deg, 70 degF")
    '45°, 70 °F'
    """
    printed = _SYMBOL.sub(lambda symbol: pretty(symbol[0]), text)
    # The degree of an angle is the one unit written close to its number (SI Brochure, 5.4.3).
    return re.sub(r"(?<=\d) °(?![CF])", "°", printed)


US_UNITS = frozenset((
    "in", "ft", "in2", "in3", "cfm", "inH2O", "inHg", "psi", "lb", "lbf", "lbf/in", "lbf.ft",
    "ft/s", "mph", "hp", "lb/hp.h", "lb/ft3", "degF",
))  # fmt: skip
"""Units of US customary practice."""

SHOWN_AS = {
    "length": "length",
    "area": "port area",
    "pressure": "air pressure",
    "force": "force",
    "force per length": "spring rate",
    "temperature": "temperature",
    "velocity": "velocity",
}
"""Kind of figure whose unit tells how a shop reads a dimension; of others its lengths do."""


@dataclass(frozen=True, slots=True)
class UnitSystem:
    """The units a shop reads its figures in: per kind of figure, a unit and decimal places."""

    name: str
    choices: dict[str, tuple[str, int]]

    def unit(self, kind: str) -> str:
        """Symbol of the unit a kind of figure is shown in."""
        return self.choices[kind][0]

    def number(self, si: float | None, kind: str) -> str:
        """An SI value as a bare number in this system's unit; a dash where there is none."""
        if si is None:
            return "–"
        symbol, decimals = self.choices[kind]
        return f"{from_si(si, symbol):.{decimals}f}"

    def text(self, si: float | None, kind: str) -> str:
        """An SI value with its unit, as "212.4 cfm"."""
        number = self.number(si, kind)
        return number if si is None else f"{number} {pretty(self.unit(kind))}"

    def is_us(self, kind: str) -> bool:
        """True where a kind of figure is shown in a US customary unit."""
        return self.unit(kind) in US_UNITS

    def measures_us(self, dimension: str) -> bool:
        """True where values of a dimension are entered in a US customary unit."""
        return self.is_us(SHOWN_AS.get(dimension, "length"))

    @property
    def is_mixed(self) -> bool:
        """True where a shop has chosen units of its own for single quantities."""
        return self.choices not in (US_CUSTOMARY.choices, SI.choices)


US_CUSTOMARY = UnitSystem(
    gettext_noop("US customary"),
    {
        "lift": ("in", 3),
        "length": ("in", 4),
        "seat": ("in", 3),
        "port area": ("in2", 3),
        "volume": ("cm3", 1),
        "flow": ("cfm", 1),
        "test pressure": ("inH2O", 2),
        "air pressure": ("inHg", 2),
        "boost": ("psi", 1),
        "temperature": ("degF", 1),
        "velocity": ("ft/s", 1),
        "power": ("W", 1),
        "engine power": ("hp", 0),
        "consumption": ("lb/hp.h", 3),
        "force": ("lbf", 1),
        "spring rate": ("lbf/in", 1),
        "density": ("lb/ft3", 5),
        "mass flow": ("g/s", 2),
        "ratio": ("%", 1),
    },
)
SI = UnitSystem(
    "SI",
    {
        "lift": ("mm", 2),
        "length": ("mm", 3),
        "seat": ("mm", 2),
        "port area": ("mm2", 1),
        "volume": ("cm3", 1),
        "flow": ("L/s", 2),
        "test pressure": ("kPa", 3),
        "air pressure": ("kPa", 2),
        "boost": ("kPa", 0),
        "temperature": ("degC", 1),
        "velocity": ("m/s", 1),
        "power": ("W", 1),
        "engine power": ("kW", 0),
        "consumption": ("g/kWh", 0),
        "force": ("N", 0),
        "spring rate": ("N/mm", 2),
        "density": ("kg/m3", 4),
        "mass flow": ("g/s", 2),
        "ratio": ("%", 1),
    },
)
UNIT_SYSTEMS = {"us": US_CUSTOMARY, "si": SI}
"""The unit systems a shop can choose, by the code kept in its settings."""
