"""Workings of past results: a band at one place, and one test among the others."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import NamedTuple

from shopflow.calc.band import BandPoint
from shopflow.calc.student import factor
from shopflow.calc.workings.working import Working, curve_in_numbers, si
from shopflow.texts import gettext, lazy
from shopflow.units import UnitSystem

CURVE = lazy("monotone cubic of Fritsch and Butland, SIAM J. Sci. Stat. Comput. 5 (1984) 300")
SIZES = lazy("as stated with the test, else as last measured before it")


class Shown(NamedTuple):
    """The flow that an effective area is shown as."""

    text: Callable[[float], str]
    """An area, m2, as that flow with its unit."""

    note: str
    """A sentence that says at which pressure and in which air."""


class Tested(NamedTuple):
    """The curve of one past test, SI."""

    lifts: Sequence[float]
    areas: Sequence[float]


def of_band(areas: Sequence[tuple[float, str]], point: BandPoint, shown: Shown) -> list[Working]:
    """The workings of a band at one place.

    Parameters
    ----------
    areas : effective area of each head there, m2, with the head's label
    point : the band there
    """
    listed = ", ".join(f"{si(area)} ({label})" for area, label in sorted(areas))
    of_parts = {
        "least": (gettext("Least"), 0.0, point.least),
        "lower-quartile": (gettext("Lower quartile"), 0.25, point.lower_quartile),
        "median": (gettext("Median"), 0.5, point.median),
        "upper-quartile": (gettext("Upper quartile"), 0.75, point.upper_quartile),
        "most": (gettext("Most"), 1.0, point.greatest),
    }
    quartiles = [
        Working(
            key,
            name,
            gettext(
                "value at place 1 + (n − 1) p of the n areas in order, linear between neighbors"
            ),
            gettext(
                "m², each head's latest test: {listed}; p {p:g}: place {p_2:g}: {si} m². {note}",
                listed=listed,
                p=p,
                p_2=1 + (len(areas) - 1) * p,
                si=si(value),
                note=shown.note,
            ),
            shown.text(value),
            gettext("type 7 of Hyndman and Fan, The American Statistician 50 (1996) 361"),
        )
        for key, (name, p, value) in of_parts.items()
    ]
    if point.next_low is None or point.next_high is None:
        return quartiles
    return [*quartiles, _next(listed, point, (point.next_low, point.next_high), shown)]


def _next(listed: str, point: BandPoint, interval: tuple[float, float], shown: Shown) -> Working:
    low, high = interval
    return Working(
        "next",
        gettext("Next head, in about half of cases"),
        gettext("mean ± t × s × √(1 + 1/n), t for 50 % and n − 1 degrees of freedom"),
        gettext(
            "m², each head's latest test: {listed}; t {factor:.4f}: {low} to {high} m². {note}",
            listed=listed,
            factor=factor(0.5, point.count - 1),
            low=si(low),
            high=si(high),
            note=shown.note,
        ),
        gettext("{low} to {high}", low=shown.text(low), high=shown.text(high)),
        gettext(
            "prediction interval, NIST/SEMATECH e-Handbook, 7.1.6; heads independent, normally "
            "spread"
        ),
    )


def of_mean(
    test: Tested, mean: float, span: tuple[float, float] | None, rank: str, shown: Shown
) -> Working:
    """The mean effective area that a test is ranked by.

    Parameters
    ----------
    test : the test's curve
    mean : over the span, m2; over the test's own lifts without one
    span : the lifts that all tests cover, m; None where they cover none together
    rank : its place among the others, in words
    """
    drawn = curve_in_numbers(test.lifts, test.areas)
    if span is None:
        return Working(
            "mean",
            gettext("Mean effective area over its own lifts"),
            gettext("integral of the curve ÷ (last − first lift)"),
            gettext(
                "m²: {drawn}; mean {mean} m². {note} Placed by greatest area, as not all "
                "have a lift in common: {rank}.",
                drawn=drawn,
                mean=si(mean),
                note=shown.note,
                rank=rank,
            ),
            shown.text(mean),
            CURVE,
        )
    low, high = (si(1e3 * lift) for lift in span)
    return Working(
        "mean",
        gettext("Mean effective area over the lifts that all have"),
        gettext("integral of the curve ÷ (highest − lowest lift)"),
        gettext(
            "from {low} to {high} mm of the curve {drawn}, m². Mean {mean} m²: {rank}. {note}",
            low=low,
            high=high,
            drawn=drawn,
            mean=si(mean),
            rank=rank,
            note=shown.note,
        ),
        shown.text(mean),
        CURVE,
    )


def of_peak(test: Tested, shown: Shown) -> Working:
    """The greatest effective area of the lifts tested."""
    area, lift = max(zip(test.areas, test.lifts, strict=True))
    return Working(
        "peak",
        gettext("Greatest effective area"),
        gettext("the greatest of the lifts tested"),
        gettext(
            "{area} m² at {lift} mm. {note}", area=si(area), lift=si(1000.0 * lift), note=shown.note
        ),
        shown.text(area),
        gettext("definition"),
    )


def of_throat(throat: float, diameter: float) -> Working:
    """The throat's diameter over the valve head's, both in m."""
    return Working(
        "throat-ratio",
        gettext("Throat ratio"),
        gettext("throat diameter ÷ valve head diameter"),
        gettext(
            "{throat} ÷ {diameter} mm = {diameter_2:.4f}; {sizes}",
            throat=si(1000.0 * throat),
            diameter=si(1000.0 * diameter),
            diameter_2=throat / diameter,
            sizes=SIZES,
        ),
        f"{throat / diameter:.3f}",
        gettext("definition"),
    )


def of_peak_coefficient(coefficient: float) -> Working:
    """The greatest coefficient on the valve head area."""
    return Working(
        "coefficient",
        gettext("Greatest Cd on valve head area"),
        gettext("greatest over the lifts of effective area ÷ (π D² ÷ 4 × number of valves)"),
        gettext(
            "{coefficient:.5f}; each is calculated on the page of the test", coefficient=coefficient
        ),
        f"{coefficient:.3f}",
        gettext("Heywood (1988), section 6.3"),
    )


def of_low_lift(coefficient: float) -> Working:
    """The mean coefficient on the curtain area at low lift."""
    return Working(
        "low-lift",
        gettext("Mean Cd on curtain area at low lift"),
        gettext("mean of the coefficients at the lifts up to L/D 0.15"),
        gettext(
            "{coefficient:.5f}; each is calculated on the page of the test", coefficient=coefficient
        ),
        f"{coefficient:.3f}",
        gettext("that low lift ends at L/D 0.15 is common practice, no source"),
    )


def of_velocity(flow: float, port_area: float, units: UnitSystem) -> Working:
    """A mean flow, m3/s, over the port area, m2."""
    speed = flow / port_area
    return Working(
        "velocity",
        gettext("Mean velocity"),
        gettext("mean flow over the test's own lifts ÷ port area"),
        gettext(
            "{flow} m³/s ÷ {port_area} m² = {speed} m/s; port area {sizes}",
            flow=si(flow),
            port_area=si(port_area),
            speed=si(speed),
            sizes=SIZES,
        ),
        units.text(speed, "velocity"),
        gettext("definition; incompressible, a mean over the section"),
    )
