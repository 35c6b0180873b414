"""Reading a curve: plain hints, each with its numbers, its reason and where that comes from.

A hint says where one might look first. It never judges a head, and changes nothing.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from math import degrees

import numpy as np

from shopflow.calc.array_types import Floats
from shopflow.calc.band import Curve, mean_between
from shopflow.calc.flow import mean_velocity
from shopflow.calc.low_lift import (
    INTAKE_LOW_LIFT,
    LOW_LIFT,
    at_low_lift,
    intake_low_lift,
    low_lift_coefficient,
)
from shopflow.calc.reduction import Reduction
from shopflow.texts import gettext, lazy, ngettext, translated

PRACTICE = lazy("common practice, no source")
BOOKS = lazy("Heywood (1988), section 6.3, values from memory")

WIDE_OPEN = 0.25
"""L/D at which the curtain is as large as the valve head: by geometry."""

CLIMBING = 0.01
"""Relative growth of a coefficient above which it is called climbing; common practice, no
source."""

FLAT = 0.25
"""Growth of the flow, as a part of the curtain's, below which it is called flat; common practice,
no source."""

FULL_SECTION = 0.85
"""Effective area, as a part of the port's section, from which the section itself is in the way;
common practice, no source."""

BEST_RATIO = 1.0
"""Exhaust over intake capacity at which the engine of NACA TN 1365 did best, "approximately"."""

NATURAL = "natural"
"""The induction of an engine without boost."""

EQUAL_PRESSURES = lazy("NACA TN 1365 (1947), its summary")
"""Source of the same: one engine of one cylinder, within the range of speeds used, with exhaust
pressure equal to inlet pressure. Of other pressures it says nothing."""


@dataclass(frozen=True, slots=True)
class Hint:
    """One hint: what the numbers are, why that may matter, who says so, and of which place."""

    text: str
    because: str
    source: str
    place: str


def hints(
    reduction: Reduction,
    other_side: Reduction | None = None,
    *,
    seat_angle: float | None = None,
    induction: str = "",
    section: float | None = None,
    tighter: str = "",
) -> list[Hint]:
    """Hints from a test's curve about the head, low lift first.

    Parameters
    ----------
    reduction : the session's figures
    other_side : a session of the other side of the same head, where there is one
    seat_angle : radians, where it is known though the session does not state it
    induction : "natural", "turbocharged" or "supercharged"; empty where it is not known
    section : the least section measured along the port, m2; that of the test where there is none
    tighter : the tighter of port and valve at the greatest flow, as "port", "valve" or "neither";
        empty where it is not known

    Returns
    -------
    hints, none for what the session does not reach
    """
    seat = reduction.test.valve.seat
    angle = seat_angle if seat is None else float(seat.angle)
    rows = [
        *_low_lift(reduction, angle),
        *_past_quarter(reduction),
        *_section(reduction, section, tighter),
    ]
    if other_side is not None and other_side.test.side != reduction.test.side:
        pair = (reduction, other_side)
        intake, exhaust = pair if reduction.test.side == "intake" else pair[::-1]
        rows += _exhaust_to_intake(intake, exhaust, induction)
    return rows


def exhaust_ratio(intake: Reduction, exhaust: Reduction) -> tuple[float, float, float] | None:
    """Mean effective area of the exhaust over the intake's, over the L/D that both have.

    Returns
    -------
    the ratio, and the lowest and highest L/D of the means; none where no stretch is common
    """
    low = max(float(side.lift_over_diameter[0]) for side in (intake, exhaust))
    high = min(float(side.lift_over_diameter[-1]) for side in (intake, exhaust))
    if low >= high:
        return None
    return _mean_area(exhaust, low, high) / _mean_area(intake, low, high), low, high


def _percent(share: float, places: int = 1) -> str:
    return f"{100.0 * share:.{places}f} %"


def _low_lift(reduction: Reduction, seat_angle: float | None) -> Iterator[Hint]:
    """The mean curtain coefficient at low lift, and whether it falls on the way."""
    mean = low_lift_coefficient(reduction)
    if mean is None:
        return
    low = at_low_lift(reduction)
    coefficients, depth = reduction.cd_curtain[low], reduction.lift_over_diameter[low]
    text = ngettext(
        "up to L/D {low:.2f} the coefficient on curtain area is {mean:.3f} at {num} lift, "
        "L/D {first_depth:.3f}",
        "up to L/D {low:.2f} the coefficient on curtain area is {mean:.3f} in the mean of {num} "
        "lifts, from {first:.3f} at L/D {first_depth:.3f} to {last:.3f} at L/D {last_depth:.3f}",
        int(low.sum()),
        low=LOW_LIFT,
        mean=mean,
        first=coefficients[0],
        first_depth=depth[0],
        last=coefficients[-1],
        last_depth=depth[-1],
    )
    because = gettext("the curtain is the smallest opening there, so that seat and bowl govern")
    if reduction.test.side == "intake":
        text = f"{text}; {_by_the_books(mean, seat_angle)}"
        yield Hint(text, because, f"{BOOKS}; {PRACTICE}", gettext("low lift"))
    else:
        yield Hint(text, because, str(PRACTICE), gettext("low lift"))


def _by_the_books(mean: float, seat_angle: float | None) -> str:
    """A mean against what books give intakes with such a seat."""
    if seat_angle is None:
        low, high = INTAKE_LOW_LIFT
        return gettext(
            "books give intakes with 45° seats {low:.2f} to {high:.2f}, but the seat angle of this "
            "one is not on record",
            low=low,
            high=high,
        )
    low, high = intake_low_lift(seat_angle)
    angle = f"{degrees(seat_angle):.1f}".removesuffix(".0")
    numbers = {"low": low, "high": high, "angle": angle}
    if mean < low:
        return gettext(
            "below the {low:.2f} to {high:.2f} that books lead to for intakes with {angle}° seats: "
            "look at seat and bowl first",
            **numbers,
        )
    if mean > high:
        return gettext(
            "above the {low:.2f} to {high:.2f} that books lead to for intakes with {angle}° seats",
            **numbers,
        )
    return gettext(
        "within the {low:.2f} to {high:.2f} that books lead to for intakes with {angle}° seats",
        **numbers,
    )


def _past_quarter(reduction: Reduction) -> Iterator[Hint]:
    """Growth of flow and opening from L/D 0.25 to the last lift."""
    depth = reduction.lift_over_diameter
    last = float(depth[-1])
    # Closer to a quarter the two growths are nothing but scatter.
    if depth[0] > WIDE_OPEN or last < WIDE_OPEN * 1.08:
        return
    at_quarter = float(np.interp(WIDE_OPEN, depth, reduction.flow))
    curtain, flow = last / WIDE_OPEN - 1.0, float(reduction.flow[-1]) / at_quarter - 1.0
    is_known, coefficient = _on_opening(reduction)
    first, final = float(np.interp(WIDE_OPEN, depth, coefficient)), float(coefficient[-1])
    sign = "−" if flow < 0 else "+"
    if flow < FLAT * curtain:
        end = gettext("it is flat there")
        because = gettext(
            "more lift opens more curtain and hardly more flows, so the port may be in the way"
        )
    elif final > (1.0 + CLIMBING) * first:
        end = gettext("it still climbs")
        because = gettext("a coefficient that still climbs past L/D 0.25 speaks for the port")
    else:
        end = gettext("it climbs no more")
        because = gettext("more flows with more lift, but no more for the opening there is")
    numbers = {
        "quarter": f"{WIDE_OPEN:.2f}",
        "last": f"{last:.3f}",
        "curtain": _percent(curtain),
        "flow": f"{sign}{_percent(abs(flow))}",
        "first": f"{first:.3f}",
        "final": f"{final:.3f}",
        "end": end,
    }
    text = (
        gettext(
            "from L/D {quarter} to {last} the curtain grows {curtain} and the flow {flow}; the "
            "coefficient on the least valve area goes from {first} to {final}: {end}",
            **numbers,
        )
        if is_known
        else gettext(
            "from L/D {quarter} to {last} the curtain grows {curtain} and the flow {flow}; the "
            "coefficient on curtain area, as the seat is not known, goes from {first} to {final}: "
            "{end}",
            **numbers,
        )
    )
    yield Hint(text, because, str(PRACTICE), gettext("past L/D 0.25"))


def _on_opening(reduction: Reduction) -> tuple[bool, Floats]:
    """The coefficient on the smallest opening known at each lift; True where it is the least area.

    Not on the head's area: that stands still, so that the coefficient on it is the flow again.
    """
    if reduction.cd_least_area is not None:
        return True, reduction.cd_least_area
    return False, reduction.cd_curtain


def _section(reduction: Reduction, measured: float | None, tighter: str) -> Iterator[Hint]:
    """The mean velocity through the port's least section, and how much of it is used."""
    area = measured or reduction.test.port_area
    if area is None:
        return
    place = greatest_flow(reduction)
    share = float(reduction.effective_area[place]) / area
    speed = float(mean_velocity(reduction.flow[place], area))
    text = gettext(
        "at the greatest flow the mean velocity through the section of "
        "{area:.0f} mm² is {speed:.1f} m/s ({speed_2:.0f} ft/s); the effective "
        "area is {share} of that section",
        area=area * 1000000.0,
        speed=speed,
        speed_2=speed / 0.3048,
        share=_percent(share, 0),
    )
    if share > 1.0:
        yield Hint(
            gettext("{hint}: this cannot be", hint=text),
            gettext(
                "no section passes more than the ideal flow of its own area, so that there is an "
                "error in the data: check the port area, the readings, the test pressure and the "
                "leakage"
            ),
            gettext("definition of the effective area"),
            gettext("error in the data"),
        )
        return
    if share >= FULL_SECTION:
        because = gettext(
            "an opening that flows nearly as an ideal one of its own size is in the way itself"
        )
    else:
        because = _tighter_than(tighter)
    yield Hint(text, because, str(PRACTICE), gettext("port section"))


def greatest_flow(reduction: Reduction) -> int:
    """Index of the lift with the greatest flow."""
    return int(reduction.flow.argmax())


def _tighter_than(tighter: str) -> str:
    """The section against the valve, by their areas: geometry."""
    if tighter == "port":
        return gettext("the port is tighter than the valve there, so that it is in the way by size")
    if tighter == "valve":
        return gettext(
            "the valve is tighter than the port there: the section has area to spare, so what is "
            "lost is lost elsewhere on the way"
        )
    if tighter == "neither":
        return gettext(
            "no measurable difference between port and valve there: neither has area to spare"
        )
    return gettext(
        "less flows than through an ideal opening of that area; whether port or valve is the "
        "tighter is not known"
    )


def _exhaust_to_intake(intake: Reduction, exhaust: Reduction, induction: str) -> Iterator[Hint]:
    over = exhaust_ratio(intake, exhaust)
    if over is None:
        return
    ratio, low, high = over
    text = gettext(
        "from L/D {low:.3f} to {high:.3f} the exhaust has {ratio:.2f} of the intake's mean "
        "effective area",
        low=low,
        high=high,
        ratio=ratio,
    )
    yield Hint(
        f"{text}; {_by_equal_pressures(ratio, induction)}",
        gettext(
            "what goes in must come out, by the pressures on either side: boost or back pressure "
            "moves the best ratio, and so may the speed"
        ),
        str(EQUAL_PRESSURES),
        gettext("exhaust against intake"),
    )


def _by_equal_pressures(ratio: float, induction: str) -> str:
    """A ratio of exhaust to intake against the one measured at equal pressures, to its one
    decimal; no verdict on engines whose pressures differ."""
    if induction == NATURAL:
        rounded = round(ratio, 1)
        if rounded < BEST_RATIO:
            return gettext(
                "below the 1.0 or so at which one engine did best with exhaust pressure equal to "
                "inlet pressure"
            )
        if rounded > BEST_RATIO:
            return gettext(
                "above the 1.0 or so at which one engine did best with exhaust pressure equal to "
                "inlet pressure"
            )
        return gettext(
            "near the 1.0 at which one engine did best with exhaust pressure equal to inlet "
            "pressure"
        )
    if induction:
        return gettext(
            "no verdict: the measured best, near 1.0, holds for exhaust pressure equal to inlet "
            "pressure, and this engine is {induction}",
            induction=translated(induction),
        )
    return gettext(
        "no verdict: the measured best, near 1.0, holds for exhaust pressure equal to inlet "
        "pressure, and this engine's induction is not known"
    )


def _mean_area(reduction: Reduction, low: float, high: float) -> float:
    depth, area = (
        tuple(array.tolist()) for array in (reduction.lift_over_diameter, reduction.effective_area)
    )
    return mean_between(Curve(depth, area), low, high)
