"""Slips of the unit: values that fit the usual ones once their number is read in another unit."""

from __future__ import annotations

from collections.abc import Callable, Iterator

import numpy as np

from shopflow.calc.air import PRESSURE_RANGE
from shopflow.calc.array_types import Floats
from shopflow.calc.atmosphere import standard_pressure
from shopflow.calc.flowtest import FlowTest
from shopflow.calc.reduction import Reduction
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
        "a barometer of",
    )  # fmt: skip


def pressure_slips(test: FlowTest) -> Iterator[str]:
    """A test pressure that benches don't hold."""
    low, high = TEST_PRESSURES
    if low <= test.test_pressure <= high:
        return
    cause = _fitting(
        test.test_pressure, _unit(test, "test_pressure"), _PRESSURES,
        lambda si: low <= si <= high, "a pressure of",
    )  # fmt: skip
    if test.test_pressure < low:
        yield (
            f"the test pressure, {test.test_pressure:.0f} Pa, is low: below about 1250 Pa (5 "
            "inches of water) the Reynolds number is too low to compare with usual "
            f"pressures{cause}"
        )
    else:
        yield (
            f"the test pressure, {test.test_pressure / 1e3:.1f} kPa "
            f"({test.test_pressure / INCH_OF_WATER:.0f} inches of water), is more than flow "
            f"benches hold; check its unit{cause}"
        )


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
    fit = f". That would fit {' or '.join(causes)}" if causes else ""
    yield (
        f"the coefficient on curtain or head area is {median:.2f} in the median of the lifts, "
        f"{'far below' if median < low else 'above'} what poppet valves have ({low} to {high}); "
        f"check the units of flow and test pressure, the valve's diameter and the lifts{fit}"
    )


def impossible_flow(typed: str, coefficient: float) -> str:
    """Fault of a flow that no valve could pass at its lift; empty where one could.

    >>> impossible_flow("178.2", 0.61)
    ''
    >>> impossible_flow("17820", 61.0)[:60]
    "'17820' is 61 times the most that this valve can pass at thi"
    """
    if coefficient <= IMPOSSIBLE:
        return ""
    return (
        f"'{typed}' is {coefficient:.2g} times the most that this valve can pass at this lift: "
        "check the flow and its unit, the valve diameter and the test pressure"
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
        lambda si: most <= si <= 1.2 * valves, "an area of",
    )  # fmt: skip
    if test.port_area > LARGEST_PORT * valves:
        yield (
            f"the port area, {test.port_area * 1e6:.0f} mm², is {test.port_area / valves:.1f} "
            f"times the area of the valve heads, {valves * 1e6:.0f} mm²; check its number and "
            f"unit{cause}"
        )
    elif most > test.port_area:
        yield (
            f"the effective area is {100 * most / test.port_area:.1f} % of the port area given, "
            "and no section passes more than the ideal; check the port area, the readings, the "
            f"test pressure and the leakage{cause}"
        )


def altitude_slips(test: FlowTest) -> Iterator[str]:
    """A barometer that does not fit the altitude of the shop."""
    if test.altitude is None:
        return
    usual = standard_pressure(test.altitude)
    if abs(test.barometer / usual - 1.0) <= WEATHER:
        return
    sea_level = standard_pressure(0.0)
    cause = (
        ". That would fit a barometer corrected to sea level, as weather reports give it; enter "
        "the pressure in the room"
        if abs(test.barometer / sea_level - 1.0) <= WEATHER
        else "; check the barometer and the altitude"
    )
    yield (
        f"the barometer, {test.barometer / 100:.0f} hPa, does not fit an altitude of "
        f"{test.altitude:.0f} m, where about {usual / 100:.0f} hPa is usual (ISO 2533){cause}"
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
            yield f"a pressure of {number:.6g} {pretty(unit)} typed as {pretty(typed)}"


def _of_flow(test: FlowTest, median: float) -> Iterator[str]:
    """Units of flow that bring the coefficient to where valves have it."""
    typed = _unit(test, "flow")
    if typed not in _FLOWS:
        return
    for unit in _FLOWS:
        if unit != typed and _likely(median * to_si(1.0, unit) / to_si(1.0, typed)):
            yield f"flows in {pretty(unit)} typed as {pretty(typed)}"


def _likely(coefficient: float) -> bool:
    low, high = LIKELY_COEFFICIENTS
    return low <= coefficient <= high


def _unit(test: FlowTest, name: str) -> str:
    return getattr(test.typed_units, name) if test.typed_units else ""


def _fitting(
    si: float, typed: str, units: tuple[str, ...], fits: Callable[[float], bool], what: str
) -> str:
    """The first unit in which a number fits, as a sentence to append; empty where none does."""
    if not typed:
        return ""
    number = from_si(si, typed)
    for unit in units:
        if unit != typed and fits(to_si(number, unit)):
            return f". That would fit {what} {number:.6g} {pretty(unit)} typed as {pretty(typed)}"
    return ""


def _median(values: Floats) -> float:
    """The middle of some values; NumPy's own loads masked arrays for it, a tenth of a start."""
    ordered = np.sort(values)
    last = len(ordered) - 1
    return float(ordered[last // 2] + ordered[(last + 1) // 2]) / 2.0
