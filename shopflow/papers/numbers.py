"""Results as they are printed: numbers with a true minus, uncertainties, changes in percent."""

from __future__ import annotations

from shopflow.calc.result import Result
from shopflow.documents import ResultPoint
from shopflow.texts import lazy
from shopflow.units import UnitSystem

NOT_STATED = lazy("not stated")


def result(units: UnitSystem, point: ResultPoint, row: Result) -> str:
    """A result of a lift, without its unit."""
    value = point.value(row.key)
    return figure(units, value, row.kind) if row.kind else coefficient(value)


def result_margin(units: UnitSystem, point: ResultPoint, row: Result) -> str:
    """The uncertainty of a result of a lift, without its unit."""
    value = point.margin(row.key)
    if point.margins is None or row.kind:
        return margin(units, value, row.kind)
    return coefficient(value)


def figure(units: UnitSystem, si: float | None, kind: str) -> str:
    """A figure without its unit, a true minus before what is negative."""
    return units.number(si, kind).replace("-", "−")


def margin(units: UnitSystem, expanded: float | None, kind: str) -> str:
    """An expanded uncertainty in its figure's unit; one not stated is said to be, and is not 0."""
    return NOT_STATED if expanded is None else figure(units, expanded, kind)


def signed(number: str) -> str:
    """A number with its sign, where it is not nought.

    >>> signed("4.6"), signed("−0.4"), signed("−0.0")
    ('+4.6', '−0.4', '0.0')
    """
    bare = number.lstrip("−")
    if not bare.strip("0."):
        return bare
    return number if number.startswith("−") else f"+{number}"


def percent(value: float | None) -> str:
    """A change in percent with its sign; a dash where there is none."""
    return "–" if value is None else signed(f"{value:.1f}".replace("-", "−"))


def coefficient(value: float | None) -> str:
    """A bare ratio to three decimals; a dash where there is none."""
    return "–" if value is None else f"{value:.3f}"
