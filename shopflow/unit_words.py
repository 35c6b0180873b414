"""Quantities as people write them, brought to the one way that `units.parse` reads.

Forms are lenient and files are not: a form knows the shop's unit and shows what it understood,
while the same file must mean the same in every shop.
"""

from __future__ import annotations

import re
import unicodedata
from fractions import Fraction

from shopflow import units
from shopflow.texts import gettext
from shopflow.units import UnitError

_NUMBER_FIRST = re.compile(
    r"""\s*(?P<number>
        [+-]?\d+[\s-]+\d+/\d+       # 1 3/4, 1-3/4
        | [+-]?\d+/\d+              # 7/16
        | [+-]?\d[\d.,]*(?:[eE][+-]?\d+)?
        | [+-]?[.,]\d+(?:[eE][+-]?\d+)?
    )\s*(?P<unit>.*?)\s*""",
    re.VERBOSE,
)
_GROUPED = re.compile(r"[+-]?[1-9]\d{0,2}(,\d{3})+(\.\d+)?|[+-]?[1-9]\d{0,2}(\.\d{3})+,\d+")

_VULGAR = re.compile("[¼½¾⅓⅔⅛⅜⅝⅞]")

DECIMALS = 6
"""Of a fraction that has no end, as 1/3."""

_ALIASES: dict[str, dict[str, str]] = {
    "length": {
        '"': "in", "″": "in", "inch": "in", "inches": "in", "'": "ft", "′": "ft", "foot": "ft",
        "feet": "ft", "millimeter": "mm", "millimeters": "mm", "millimetre": "mm",
        "millimetres": "mm",
    },
    "area": {"sqin": "in2", "sqmm": "mm2", "sqcm": "cm2"},
    "volume": {"ccm": "cm3", "ml": "cm3", "cuin": "in3", "ci": "in3", "cid": "in3", "liter": "L",
               "liters": "L", "litre": "L", "litres": "L"},
    "volume flow": {"ft3/min": "cfm", "lps": "L/s", "m3/hr": "m3/h"},
    "pressure": {"mb": "mbar", "inwc": "inH2O", "inwg": "inH2O", '"h2o': "inH2O", '"hg': "inHg",
                 "lb/in2": "psi", "lbs/in2": "psi", "psig": "psi"},
    "angle": {"°": "deg", "degree": "deg", "degrees": "deg"},
    "ratio": {"percent": "%", "pct": "%"},
    "mass": {"lbs": "lb", "gram": "g", "grams": "g"},
    "force": {"lb": "lbf", "lbs": "lbf", "pound": "lbf", "pounds": "lbf", "newton": "N",
              "newtons": "N"},
    "force per length": {"lb/in": "lbf/in", "lbs/in": "lbf/in"},
    "torque": {"nm": "N.m", "ftlb": "lbf.ft", "ftlbs": "lbf.ft", "ftlbf": "lbf.ft",
               "lbft": "lbf.ft", "lbfft": "lbf.ft"},
    "velocity": {"fps": "ft/s", "kph": "km/h", "kmh": "km/h"},
    "specific consumption": {"g/kwh": "g/kWh", "lb/hph": "lb/hp.h", "lb/hp-h": "lb/hp.h",
                             "lb/bhph": "lb/hp.h", "lb/hphr": "lb/hp.h"},
    "power": {"bhp": "hp"},
    "speed of rotation": {"1/min": "rpm", "r/min": "rpm"},
    "temperature": {"°c": "degC", "c": "degC", "°f": "degF", "f": "degF"},
    "time": {"sec": "s", "second": "s", "seconds": "s", "mins": "min", "minute": "min",
             "minutes": "min", "hr": "h", "hrs": "h", "hour": "h", "hours": "h"},
}  # fmt: skip
"""Other ways to write a unit, folded, by what is measured: pounds are a force where a force is."""


def understood(text: str, dimension: str, usual: str | None = None) -> str:
    """A quantity as typed in the way that `units.parse` reads; unchanged where that reads it.

    Parameters
    ----------
    text : as typed: "44,5", "1-3/4 in", "40 PSI", "70 F", "120 lb"
    dimension : as of `units.parse`
    usual : symbol of the unit of a bare number; None where a unit must be typed

    Raises
    ------
    UnitError where it is no quantity of that dimension, or a comma may stand for two things

    Examples
    --------
    >>> understood("44,5", "length", "mm"), understood('1-3/4"', "length", "mm")
    ('44.5 mm', '1.75 in')
    >>> understood("120 lb", "force"), understood("70°F", "temperature")
    ('120 lbf', '70 degF')
    """
    try:
        units.parse(text, dimension)
    except UnitError:
        return _reread(text, dimension, usual)
    return text


def _reread(text: str, dimension: str, usual: str | None) -> str:
    match = _NUMBER_FIRST.fullmatch(_plain(text)) if len(text) <= units.LONGEST_TEXT else None
    if match is not None:
        symbol = _symbol(match["unit"], dimension) if match["unit"] else usual or ""
        meant = f"{_decimal(match['number'])} {symbol}".rstrip()
        try:
            units.parse(meant, dimension)
        except UnitError:
            if match["unit"]:
                # What is wrong is told of the text as it was typed.
                units.parse(text, dimension)
            raise
        return meant
    units.parse(text, dimension)
    return text


def _plain(text: str) -> str:
    """Text with ordinary spaces, minus signs and fractions: "1½" as "1 1/2"."""
    spaced = re.sub(r"[\u00a0\u202f\u2009]", " ", text).replace("−", "-")
    return _VULGAR.sub(lambda sign: f" {_slashed(sign[0])}", spaced).strip()


def _slashed(sign: str) -> str:
    return unicodedata.normalize("NFKC", sign).replace("\u2044", "/")


def _symbol(written: str, dimension: str) -> str:
    """The unit written in any case or by another name; as written where none is meant."""
    folded = re.sub(r"\s+|\.$|(?<=[a-z])-(?=[a-z])|·", "", written.casefold())
    for power, digit in (("²", "2"), ("³", "3"), ("₂", "2"), ("^", "")):
        folded = folded.replace(power, digit)
    names = {symbol.casefold(): symbol for symbol in units.units_of(dimension)}
    return {**names, **_ALIASES.get(dimension, {})}.get(folded, written)


def _decimal(number: str) -> str:
    """A number with a decimal point, from one with a comma, a fraction, or both parts of one."""
    if "/" in number:
        return _of_fraction(number)
    if _GROUPED.fullmatch(number):
        raise UnitError(
            gettext(
                "'{number}' can be read in two ways: write it without separators of thousands",
                number=number,
            )
        )
    return number.replace(",", ".", 1) if "." not in number else number


def _of_fraction(number: str) -> str:
    sign = -1 if number.startswith("-") else 1
    *whole, fraction = re.split(r"[\s-]+", number.lstrip("+-"))
    above, below = (int(part) for part in fraction.split("/"))
    if not below:
        raise UnitError(gettext("'{number}' divides by zero: enter another number", number=number))
    value = sign * (sum(int(part) for part in whole) + Fraction(above, below))
    text = f"{float(value):.{DECIMALS}f}".rstrip("0")
    return text.rstrip(".")
