"""Slips of the unit: values that fit the usual ones once their number is read in another unit."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

import numpy as np

from shopflow.calc.air import PRESSURE_RANGE
from shopflow.calc.array_types import Floats
from shopflow.calc.atmosphere import standard_pressure
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
from shopflow.texts import gettext, lazy
from shopflow.units import from_si, pretty, to_si

INCH_OF_WATER = to_si(1.0, "inH2O")
TEST_PRESSURES = (5 * INCH_OF_WATER, 80 * INCH_OF_WATER)
"""Pa, what flow benches hold: below, the Reynolds number is too low to compare with the usual
pressures; common practice, no source."""

COEFFICIENTS = (0.33, 0.95)
"""Coefficient on the smaller of curtain and head area, the median of a test's lifts, outside which
a unit is more likely wrong than the port; common practice, no source."""

LIKELY_COEFFICIENTS = (0.42, 0.78)
"""Range of such a median for another unit to explain it; common practice, no source."""

IMPOSSIBLE = 2.0
"""Coefficient on the smaller of curtain and head area beyond which a flow is a slip: no opening
passes more than the ideal, and lift, diameter and pressure together are not off by that much."""

LARGEST_PORT = 2.0
"""Port area over the area of the valve heads that it feeds; common practice, no source."""

WEATHER = 0.04
"""Of the standard pressure at an altitude, how far weather moves the barometer: sea-level pressures
lie between about 970 and 1050 hPa but for storms; common practice, no source."""

_PRESSURES = ("inH2O", "kPa", "hPa", "mmH2O", "Pa")
_BAROMETERS = ("inHg", "hPa", "kPa", "psi")
_FLOWS = ("cfm", "L/s", "m3/h")
_AREAS = ("mm2", "cm2", "in2")


def barometer_cause(test: FlowTest) -> str:
    """The barometer that was likely meant, where the one typed is out of range; empty if none."""
    low, high = PRESSURE_RANGE
    return _fitting(
        test.barometer, _unit(test, "barometer"), _BAROMETERS, lambda si: low <= si <= high,
        lazy("a barometer of {number:.6g} {unit} typed as {typed}"),
    )  # fmt: skip


def pressure_slips(test: FlowTest) -> Iterator[str]:
    """A test pressure that benches don't hold."""
    low, high = TEST_PRESSURES
    if low <= test.test_pressure <= high:
        return
    cause = _fitting(
        test.test_pressure, _unit(test, "test_pressure"), _PRESSURES,
        lambda si: low <= si <= high, lazy("a pressure of {number:.6g} {unit} typed as {typed}"),
    )  # fmt: skip
    if test.test_pressure < low:
        text = gettext(
            "the test pressure, {pressure:.0f} Pa, is low: below about 1250 Pa (5 inches of water) "
            "the Reynolds number is too low to compare with usual pressures",
            pressure=test.test_pressure,
        )
    else:
        text = gettext(
            "the test pressure, {kilopascals:.1f} kPa ({inches:.0f} inches of water), is more than "
            "flow benches hold; check its unit",
            kilopascals=test.test_pressure / 1e3,
            inches=test.test_pressure / INCH_OF_WATER,
        )
    yield with_cause(text, cause)


def coefficient_slips(reduction: Reduction) -> Iterator[str]:
    """Coefficients that a wrong unit explains better than the port does."""
    low, high = COEFFICIENTS
    median = _median(reduction.opening_coefficient)
    if low <= median <= high:
        return
    causes = [*_of_pressure(reduction.test, median), *_of_flow(reduction.test, median)]
    if median > high and not causes:
        # A lift above the ideal has its own doubt.
        return
    numbers = {"median": median, "low": low, "high": high}
    text = (
        gettext(
            "the coefficient on curtain or head area is {median:.2f} in the median of the lifts, "
            "far below what poppet valves have ({low} to {high}); check the units of flow and test "
            "pressure, the valve's diameter and the lifts",
            **numbers,
        )
        if median < low
        else gettext(
            "the coefficient on curtain or head area is {median:.2f} in the median of the lifts, "
            "above what poppet valves have ({low} to {high}); check the units of flow and test "
            "pressure, the valve's diameter and the lifts",
            **numbers,
        )
    )
    yield with_cause(text, _either(causes))


def _either(causes: Sequence[str]) -> str:
    """Causes as one reads them: "a or b"."""
    first, *others = causes or [""]
    for other in others:
        first = gettext("{first} or {second}", first=first, second=other)
    return first


def with_cause(doubt: str, cause: str) -> str:
    """A doubt, and the value that was likely meant where one fits."""
    if not cause:
        return doubt
    return gettext("{doubt}. That would fit {cause}", doubt=doubt, cause=cause)


def impossible_flow(typed: str, coefficient: float) -> str:
    """Fault of a flow that no valve could pass at its lift; empty where one could.

    >>> impossible_flow("178.2", 0.61)
    ''
    >>> impossible_flow("17820", 61.0)[:60]
    "'17820' is 61 times the most that this valve can pass at thi"
    """
    if coefficient <= IMPOSSIBLE:
        return ""
    return gettext(
        "'{typed}' is {coefficient:.2g} times the most that this valve can pass "
        "at this lift: check the flow and its unit, the valve diameter and the "
        "test pressure",
        typed=typed,
        coefficient=coefficient,
    )


def port_slips(reduction: Reduction) -> Iterator[str]:
    """A port area that dwarfs the valves it feeds, or that the flow could not pass."""
    test = reduction.test
    if test.port_area is None:
        return
    valves = test.valve.count * np.pi / 4.0 * test.valve.head_diameter**2
    most = float(reduction.effective_area.max())
    cause = _fitting(
        test.port_area, _unit(test, "port_area"), _AREAS,
        lambda si: most <= si <= 1.2 * valves,
        lazy("an area of {number:.6g} {unit} typed as {typed}"),
    )  # fmt: skip
    if test.port_area > LARGEST_PORT * valves:
        text = gettext(
            "the port area, {port:.0f} mm², is {times:.1f} times the area of the valve heads, "
            "{valves:.0f} mm²; check its number and unit",
            port=test.port_area * 1e6,
            times=test.port_area / valves,
            valves=valves * 1e6,
        )
        yield with_cause(text, cause)
    elif most > test.port_area:
        text = gettext(
            "the effective area is {percent:.1f} % of the port area given, and no section passes "
            "more than the ideal; check the port area, the readings, the test pressure and the "
            "leakage",
            percent=100 * most / test.port_area,
        )
        yield with_cause(text, cause)


def altitude_slips(test: FlowTest) -> Iterator[str]:
    """A barometer that does not fit the altitude of the shop."""
    if test.altitude is None:
        return
    usual = standard_pressure(test.altitude)
    if abs(test.barometer / usual - 1.0) <= WEATHER:
        return
    sea_level = standard_pressure(0.0)
    numbers = {
        "barometer": test.barometer / 100,
        "altitude": test.altitude,
        "usual": usual / 100,
    }
    if abs(test.barometer / sea_level - 1.0) <= WEATHER:
        yield gettext(
            "the barometer, {barometer:.0f} hPa, does not fit an altitude of {altitude:.0f} m, "
            "where about {usual:.0f} hPa is usual (ISO 2533). That would fit a barometer corrected "
            "to sea level, as weather reports give it; enter the pressure in the room",
            **numbers,
        )
    else:
        yield gettext(
            "the barometer, {barometer:.0f} hPa, does not fit an altitude of {altitude:.0f} m, "
            "where about {usual:.0f} hPa is usual (ISO 2533); check the barometer and the altitude",
            **numbers,
        )


def _of_pressure(test: FlowTest, median: float) -> Iterator[str]:
    """Test pressures in another unit that bring the coefficient to where valves have it."""
    typed = _unit(test, "test_pressure")
    low, high = TEST_PRESSURES
    if not typed or not low <= test.test_pressure <= high:
        return
    number = from_si(test.test_pressure, typed)
    for unit in _PRESSURES:
        meant = to_si(number, unit)
        # The effective area goes with the inverse root of the pressure, near enough.
        if low <= meant <= high and _likely(median * float(np.sqrt(test.test_pressure / meant))):
            yield gettext(
                "a pressure of {number:.6g} {unit} typed as {typed}",
                number=number,
                unit=pretty(unit),
                typed=pretty(typed),
            )


def _of_flow(test: FlowTest, median: float) -> Iterator[str]:
    """Units of flow that bring the coefficient to where valves have it."""
    typed = _unit(test, "flow")
    if typed not in _FLOWS:
        return
    for unit in _FLOWS:
        if unit != typed and _likely(median * to_si(1.0, unit) / to_si(1.0, typed)):
            yield gettext(
                "flows in {unit} typed as {typed}", unit=pretty(unit), typed=pretty(typed)
            )


def _likely(coefficient: float) -> bool:
    low, high = LIKELY_COEFFICIENTS
    return low <= coefficient <= high


def _unit(test: FlowTest, name: str) -> str:
    return getattr(test.typed_units, name) if test.typed_units else ""


def _fitting(
    si: float, typed: str, units: tuple[str, ...], fits: Callable[[float], bool], cause: str
) -> str:
    """The first unit in which a number fits, put into the text of a cause; empty for none."""
    if not typed:
        return ""
    number = from_si(si, typed)
    for unit in units:
        if unit != typed and fits(to_si(number, unit)):
            return cause.format(number=number, unit=pretty(unit), typed=pretty(typed))
    return ""


def _median(values: Floats) -> float:
    """The middle of some values; NumPy's own loads masked arrays for it, a tenth of a start."""
    ordered = np.sort(values)
    last = len(ordered) - 1
    return float(ordered[last // 2] + ordered[(last + 1) // 2]) / 2.0
