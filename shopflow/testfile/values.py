"""Reading one value of a session file, or refusing it."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterable, Mapping
from datetime import datetime
from decimal import Decimal
from typing import Any

from shopflow import units
from shopflow.calc.calibration import CalibrationModel
from shopflow.calc.meterair import MeterKind
from shopflow.calc.metering import ElementKind
from shopflow.testfile.keys import FLOWS, PRESSURES, UNITS, Key
from shopflow.testfile.meter import READING_KINDS
from shopflow.texts import gettext

LOWEST, HIGHEST = -500.0, 9000.0
"""Altitude in m of any shop."""

MOST_VALVES = 1000
"""More than open on any port."""

_CHOICES: dict[str, tuple[str, ...]] = {
    "side": ("intake", "exhaust"),
    "reading": READING_KINDS,
    "meter": tuple(MeterKind),
    "element": tuple(ElementKind),
    "model": tuple(CalibrationModel),
    "unit": (*FLOWS, "%"),
}
_SHOWN = 40


class RefusedError(ValueError):
    """One value that cannot be; the message says why."""


def read(key: Key, table: Mapping[str, Any]) -> Any:
    """A key's value in its table, or its default. Raises RefusedError."""
    if key.name not in table:
        if key.required:
            raise RefusedError("missing")
        return _default(key)
    raw = table[key.name]
    if key.dimension == "text":
        return _text(raw)
    if key.dimension == "moment":
        return _moment(raw)
    if key.dimension in _CHOICES:
        return _choice(raw, _CHOICES[key.dimension])
    if key.dimension == "count":
        return _count(raw)
    if key.dimension == "number":
        return _factor(raw)
    if key.dimension == "row":
        return _row(raw)
    return _quantity(key, raw)


def number(item: Any) -> Decimal:
    """A number as typed. Raises RefusedError on anything else, NaN and infinity among it."""
    if isinstance(item, bool) or not isinstance(item, int | float | Decimal):
        raise RefusedError(gettext("{shown} is not a number", shown=shown(item)))
    typed = Decimal(repr(item)) if isinstance(item, float) else Decimal(item)
    if not typed.is_finite():
        raise RefusedError(gettext("{shown} is not a finite number", shown=shown(item)))
    if not math.isfinite(float(typed)):
        raise RefusedError(gettext("{shown} is too large a number", shown=shown(item)))
    return typed


def shown(raw: Any) -> str:
    """Describe a value in a few words fit for a line of a message."""
    if isinstance(raw, Mapping):
        return gettext("a table")
    if isinstance(raw, list | tuple):
        return gettext("an array")
    if isinstance(raw, bool):
        return str(raw).lower()
    text = f"'{raw}'" if isinstance(raw, str) else str(raw)
    return text if len(text) <= _SHOWN else f"{text[:_SHOWN]}…"


def suggestion(typed: str, choices: Iterable[str]) -> str:
    """The nearest of what is known, as "; did you mean 'area'?"; empty where none is near."""
    folded = {name.lower(): name for name in choices}
    near = difflib.get_close_matches(typed.lower(), folded, n=1) if len(typed) <= _SHOWN else []
    return gettext("; did you mean '{folded}'?", folded=folded[near[0]]) if near else ""


def _default(key: Key) -> Any:
    if key.dimension == "row":
        return ()
    if not key.default:
        return "" if key.dimension in ("text", *_CHOICES) else None
    if key.dimension == "count":
        return int(key.default)
    if key.dimension == "number":
        return Decimal(key.default)
    return key.default if key.dimension in _CHOICES else _quantity(key, key.default)


def _text(raw: Any) -> str:
    if not isinstance(raw, str):
        raise RefusedError(gettext("must be text in quotes, not {shown}", shown=shown(raw)))
    return raw


def _moment(raw: Any) -> datetime:
    if not isinstance(raw, datetime):
        raise RefusedError(
            gettext(
                "must be a date and time, as 2026-03-14T10:30:00-06:00, not {shown}",
                shown=shown(raw),
            )
        )
    # In the first and last year a shift of time zone may leave the calendar.
    if not 1 < raw.year < 9999:
        raise RefusedError(gettext("nothing was measured in the year {year}", year=raw.year))
    return raw


def _choice(raw: Any, choices: tuple[str, ...]) -> str:
    if not isinstance(raw, str) or raw not in choices:
        near = suggestion(raw, choices) if isinstance(raw, str) else ""
        quoted = [f'"{choice}"' for choice in choices]
        raise RefusedError(
            gettext(
                "must be {first} or {last}, not {shown}{near}",
                first=", ".join(quoted[:-1]),
                last=quoted[-1],
                shown=shown(raw),
                near=near,
            )
        )
    return raw


def _count(raw: Any) -> int:
    if isinstance(raw, bool) or not isinstance(raw, int):
        raise RefusedError(gettext("{shown} is not a whole number", shown=shown(raw)))
    if not 1 <= raw <= MOST_VALVES:
        raise RefusedError(
            gettext(
                "{shown} is not from 1 to {most_valves}", shown=shown(raw), most_valves=MOST_VALVES
            )
        )
    return raw


def _row(raw: Any) -> tuple[Decimal, ...]:
    if not isinstance(raw, list | tuple):
        raise RefusedError(
            gettext("must be an array of numbers, as [20, 40, 60], not {shown}", shown=shown(raw))
        )
    clean = []
    for row, item in enumerate(raw, start=1):
        try:
            clean.append(number(item))
        except RefusedError as refused:
            raise RefusedError(gettext("row {row}: {refused}", row=row, refused=refused)) from None
    return tuple(clean)


def _factor(raw: Any) -> Decimal:
    typed = number(raw)
    if not float(typed) > 0.0:
        raise RefusedError(gettext("{shown} is not above 0", shown=shown(raw)))
    return typed


def _quantity(key: Key, raw: Any) -> units.Quantity:
    if not isinstance(raw, str):
        raise RefusedError(
            gettext(
                "must be a number and its unit in quotes, as {example}, not {shown}",
                example=_example(key),
                shown=shown(raw),
            )
        )
    dimension = key.dimension
    if dimension in ("leakage", "division"):
        dimension = _dimension_of_reading(raw)
    measured = "length" if dimension == "altitude" else dimension
    try:
        quantity = units.parse(raw, measured, UNITS[dimension])
    except units.UnitError as error:
        raise RefusedError(str(error)) from None
    _hold_to_bounds(key, quantity)
    return quantity


def _dimension_of_reading(text: str) -> str:
    """Dimension of the bench's reading: a flow, a percentage or a pressure difference."""
    try:
        symbol = units.split(text)[1]
    except units.UnitError:
        return "volume flow"
    return {"%": "ratio"}.get(symbol, "pressure" if symbol in PRESSURES else "volume flow")


def _hold_to_bounds(key: Key, quantity: units.Quantity) -> None:
    """Refuse what cannot be. Raises RefusedError."""
    if key.bound == "positive" and not quantity.si > 0.0:
        nothing = gettext("absolute zero") if key.dimension == "temperature" else "0"
        raise RefusedError(
            gettext("{quantity} is not above {nothing}", quantity=quantity, nothing=nothing)
        )
    if key.bound == "not negative" and quantity.si < 0.0:
        raise RefusedError(gettext("{quantity} is below 0", quantity=quantity))
    if key.field == "humidity" and quantity.si > 1.0:
        raise RefusedError(gettext("{quantity} is above 100 %", quantity=quantity))
    if key.field == "altitude" and not LOWEST <= quantity.si <= HIGHEST:
        raise RefusedError(
            gettext(
                "{quantity} is outside {lowest:.0f} to {highest:.0f} m",
                quantity=quantity,
                lowest=LOWEST,
                highest=HIGHEST,
            )
        )
    if key.field == "seat_angle" and not 1.0 <= float(quantity.number) <= 89.0:
        raise RefusedError(gettext("{quantity} is outside 1 to 89 deg", quantity=quantity))


def _example(key: Key) -> str:
    """A quantity of the kind a key holds."""
    number_and_unit = {
        "length": "44.0 mm",
        "altitude": "1600 m",
        "area": "1.72 in2",
        "volume flow": "400 cfm",
        "leakage": "0.7 cfm",
        "division": "0.5 cfm",
        "density": "1.20 kg/m3",
        "temperature": "68 degF",
        "angle": "45 deg",
        "ratio": "1.0 %",
        "speed of rotation": "6500 rpm",
    }
    return f'"{number_and_unit.get(key.dimension, "28 inH2O")}"'
