"""Figures in the units they were measured in: one system of units to a figure."""

from __future__ import annotations

from shopflow.units import (
    SI,
    UNITS,
    US_CUSTOMARY,
    US_UNITS,
    Quantity,
    UnitSystem,
    from_si,
    pretty_text,
)

DIMENSIONS = {
    "force": "force", "lift": "length", "spring rate": "force per length", "boost": "pressure",
}  # fmt: skip
KINDS = {dimension: kind for kind, dimension in DIMENSIONS.items()}
PLACES = {
    symbol: places
    for units in (SI, US_CUSTOMARY)
    for symbol, places in (units.choices[kind] for kind in DIMENSIONS)
}


def stated(si: float, kind: str, first: Quantity | None, usual: UnitSystem) -> str:
    """A calculated value in the unit, or the system of units, of the figure's first input."""
    if first is not None and UNITS[first.unit].dimension == DIMENSIONS[kind]:
        number = from_si(si, first.unit)
        return pretty_text(f"{number:.{PLACES.get(first.unit, 3)}f} {first.unit}")
    return _system(first, usual).text(si, kind)


def as_typed(value: Quantity, first: Quantity | None, usual: UnitSystem) -> str:
    """An input as typed, or restated where the figure's first input is of another system."""
    if first is None or usual.is_mixed or _is_us(value) == _is_us(first):
        return pretty_text(value.text)
    return _system(first, usual).text(value.si, KINDS[UNITS[value.unit].dimension])


def in_system(value: Quantity, kind: str, units: UnitSystem) -> Quantity:
    """A value as typed, or restated where it is of another system of units than asked for."""
    if _is_us(value) == units.is_us(kind):
        return value
    return Quantity(units.text(value.si, kind), value.si)


def restated(value: Quantity, kind: str, units: UnitSystem) -> str:
    """A value in one system of units; one typed in another follows in brackets as it was typed."""
    own = in_system(value, kind, units)
    if own is value:
        return pretty_text(value.text)
    return f"{own.text} ({pretty_text(value.text)})"


def _system(first: Quantity | None, usual: UnitSystem) -> UnitSystem:
    if first is None or usual.is_mixed:
        return usual
    return US_CUSTOMARY if _is_us(first) else SI


def _is_us(value: Quantity) -> bool:
    return value.unit in US_UNITS
