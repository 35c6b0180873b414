"""Results as they are printed: numbers with a true minus, uncertainties, changes in percent."""

from __future__ import annotations

import math

from shopflow.calc.result import Result
from shopflow.calc.rounding import matched, places, written
from shopflow.documents import ResultPoint
from shopflow.texts import lazy
from shopflow.units import UnitSystem, from_si

NOT_STATED = lazy("not stated")


def result(units: UnitSystem, point: ResultPoint, row: Result) -> str:
    """A result of a lift, without its unit, to the place of its uncertainty."""
    return stated(units, point.value(row.key), _own_margin(point, row), row.kind)[0]


def result_margin(units: UnitSystem, point: ResultPoint, row: Result) -> str:
    """The uncertainty of a result of a lift, without its unit, to two significant digits."""
    uncertainty = _own_margin(point, row)
    if uncertainty is None and point.margins is not None and not row.kind:
        return coefficient(None)
    return stated(units, point.value(row.key), uncertainty, row.kind)[1]


def _own_margin(point: ResultPoint, row: Result) -> float | None:
    return None if point.margins is None else point.margin(row.key)


def stated(
    units: UnitSystem, si: float | None, expanded: float | None, kind: str
) -> tuple[str, str]:
    """A result and its expanded uncertainty, by JCGM 100:2008, 7.2.6; a bare ratio without a kind.

    Where no uncertainty is stated, the result has the decimals of its kind.
    """
    if si is None or not expanded:
        bare = figure(units, si, kind) if kind else coefficient(si)
        return bare, margin(units, expanded, kind) if kind else coefficient(expanded)
    unit = units.unit(kind) if kind else ""
    scale = from_si(1.0, unit) if kind else 1.0
    value, uncertainty = matched(scale * si, scale * expanded)
    return value.replace("-", "−"), uncertainty


def changed(gain: float, expanded: float | None) -> tuple[str, str]:
    """A relative change and its uncertainty in percent, without the sign of percent."""
    if not expanded:
        return percent(100.0 * gain), NOT_STATED if expanded is None else "0.0"
    value, uncertainty = matched(100.0 * gain, 100.0 * expanded)
    return signed(value.replace("-", "−")), uncertainty


def to_agree(units: UnitSystem, si: float, kind: str, gain_margin: float | None) -> str:
    """A value that a printed change in percent can be computed from again.

    Its rounding stays below a tenth of the change's last digit (JCGM 100:2008, 7.2.6: further
    digits avoid rounding errors in what is calculated from it).
    """
    number = from_si(si, units.unit(kind))
    decimals = places(100.0 * gain_margin) if gain_margin else 1
    if not number:
        return figure(units, si, kind)
    finest = abs(number) * 10.0 ** -(decimals + 2)
    own = max(units.choices[kind][1], -math.floor(math.log10(finest)))
    return written(number, own).replace("-", "−")


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
