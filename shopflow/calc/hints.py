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
from shopflow.calc.low_lift import (
    INTAKE_LOW_LIFT,
    LOW_LIFT,
    at_low_lift,
    intake_low_lift,
    low_lift_coefficient,
)
from shopflow.calc.reduction import Reduction

PRACTICE = "common practice, no source"
BOOKS = "Heywood (1988), section 6.3, values from memory"

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

USUAL_RATIO = (0.70, 0.80)
"""Exhaust flow over intake flow under natural aspiration; common practice, no source."""

NATURAL = "natural"
"""The induction of an engine without boost."""

EQUAL_PRESSURES = "NACA TN 1365 (1947), its summary"
"""Of one engine, best near a ratio of 1 where exhaust and inlet pressure are equal."""


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
) -> list[Hint]:
    """Hints from a test's curve about the head, low lift first.

    Parameters
    ----------
    reduction : the session's figures
    other_side : a session of the other side of the same head, where there is one
    seat_angle : radians, where it is known though the session does not state it
    induction : "natural", "turbocharged" or "supercharged"; empty where it is not known

    Returns
    -------
    hints, none for what the session does not reach
    """
    seat = reduction.test.valve.seat
    angle = seat_angle if seat is None else float(seat.angle)
    found = [*_low_lift(reduction, angle), *_past_quarter(reduction), *_section(reduction)]
    if other_side is not None and other_side.test.side != reduction.test.side:
        pair = (reduction, other_side)
        intake, exhaust = pair if reduction.test.side == "intake" else pair[::-1]
        found += _exhaust_to_intake(intake, exhaust, induction)
    return found


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
    found, depth = reduction.cd_curtain[low], reduction.lift_over_diameter[low]
    text = (
        f"up to L/D {LOW_LIFT:.2f} the coefficient on curtain area is {mean:.3f} in the mean of "
        f"{int(low.sum())} lifts, from {found[0]:.3f} at L/D {depth[0]:.3f} to {found[-1]:.3f} at "
        f"L/D {depth[-1]:.3f}"
    )
    because = "the curtain is the smallest opening there, so that seat and bowl govern"
    if reduction.test.side == "intake":
        text += f"; {_by_the_books(mean, seat_angle)}"
        yield Hint(text, because, f"{BOOKS}; {PRACTICE}", "low lift")
    else:
        yield Hint(text, because, PRACTICE, "low lift")


def _by_the_books(mean: float, seat_angle: float | None) -> str:
    """A mean against what books give intakes with such a seat."""
    if seat_angle is None:
        low, high = INTAKE_LOW_LIFT
        return (
            f"books give intakes with 45° seats {low:.2f} to {high:.2f}, but the seat angle of "
            "this one is not on record"
        )
    usual = low, high = intake_low_lift(seat_angle)
    angle = f"{degrees(seat_angle):.1f}".removesuffix(".0")
    return (
        f"{_against(mean, usual)} the {low:.2f} to {high:.2f} that books lead to for intakes with "
        f"{angle}° seats{_look(mean, low)}"
    )


def _look(mean: float, least: float) -> str:
    return ": look at seat and bowl first" if mean < least else ""


def _against(value: float, reach: tuple[float, float]) -> str:
    low, high = reach
    return "below" if value < low else "above" if value > high else "within"


def _past_quarter(reduction: Reduction) -> Iterator[Hint]:
    """Growth of flow and opening from L/D 0.25 to the last lift."""
    depth = reduction.lift_over_diameter
    last = float(depth[-1])
    # Closer to a quarter the two growths are nothing but scatter.
    if depth[0] > WIDE_OPEN or last < WIDE_OPEN * 1.08:
        return
    at_quarter = float(np.interp(WIDE_OPEN, depth, reduction.flow))
    curtain, flow = last / WIDE_OPEN - 1.0, float(reduction.flow[-1]) / at_quarter - 1.0
    named, coefficient = _on_opening(reduction)
    first, final = float(np.interp(WIDE_OPEN, depth, coefficient)), float(coefficient[-1])
    sign = "−" if flow < 0 else "+"
    numbers = (
        f"from L/D {WIDE_OPEN:.2f} to {last:.3f} the curtain grows {_percent(curtain)} and the "
        f"flow {sign}{_percent(abs(flow))}; the coefficient on {named} goes from {first:.3f} to "
        f"{final:.3f}"
    )
    if flow < FLAT * curtain:
        end = "it is flat there"
        because = (
            "more lift opens more curtain and hardly more flows, so the port may be in the way"
        )
    elif final > (1.0 + CLIMBING) * first:
        end = "it still climbs"
        because = "a coefficient that still climbs past L/D 0.25 speaks for the port"
    else:
        end = "it climbs no more"
        because = "more flows with more lift, but no more for the opening there is"
    yield Hint(f"{numbers}: {end}", because, PRACTICE, "past L/D 0.25")


def _on_opening(reduction: Reduction) -> tuple[str, Floats]:
    """The coefficient on the smallest opening known at each lift, and what that is called.

    Not on the head's area: that stands still, so that the coefficient on it is the flow again.
    """
    if reduction.cd_least_area is not None:
        return "the least area", reduction.cd_least_area
    return "curtain area, as the seat is not known,", reduction.cd_curtain


def _section(reduction: Reduction) -> Iterator[Hint]:
    """The mean velocity through the section given, and how much of it is used."""
    area = reduction.test.port_area
    if area is None or reduction.velocity is None:
        return
    place = int(reduction.flow.argmax())
    share = float(reduction.effective_area[place]) / area
    speed = float(reduction.velocity[place])
    text = (
        f"at the greatest flow the mean velocity through the section of {area * 1e6:.0f} mm² is "
        f"{speed:.1f} m/s ({speed / 0.3048:.0f} ft/s); the effective area is "
        f"{_percent(share, 0)} of that section"
    )
    if share > 1.0:
        yield Hint(
            f"{text}: this cannot be",
            "no section passes more than the ideal flow of its own area, so that there is an error "
            "in the data: check the port area, the readings, the test pressure and the leakage",
            "definition of the effective area",
            "error in the data",
        )
        return
    if share >= FULL_SECTION:
        because = (
            "an opening that flows nearly as an ideal one of its own size is in the way itself"
        )
    else:
        because = "the section has area to spare, so what is lost is lost elsewhere on the way"
    yield Hint(text, because, PRACTICE, "port section")


def _exhaust_to_intake(intake: Reduction, exhaust: Reduction, induction: str) -> Iterator[Hint]:
    found = exhaust_ratio(intake, exhaust)
    if found is None:
        return
    ratio, low, high = found
    text = (
        f"from L/D {low:.3f} to {high:.3f} the exhaust has {ratio:.2f} of the intake's mean "
        "effective area"
    )
    usual = "0.70 to 0.80"
    if induction == NATURAL:
        text += f", {_against(ratio, USUAL_RATIO)} the {usual} usual under natural aspiration"
    elif induction:
        text += (
            f"; the {usual} usual under natural aspiration is no measure of a {induction} engine"
        )
    else:
        text += f"; {usual} is usual under natural aspiration, and this engine's is not known"
    yield Hint(
        text,
        "what goes in must come out, by the pressures on either side: one engine measured did best "
        "near 1.0 with equal pressures, and boost or back pressure moves that",
        f"{PRACTICE}; {EQUAL_PRESSURES}",
        "exhaust against intake",
    )


def _mean_area(reduction: Reduction, low: float, high: float) -> float:
    depth, area = (
        tuple(array.tolist()) for array in (reduction.lift_over_diameter, reduction.effective_area)
    )
    return mean_between(Curve(depth, area), low, high)
