"""The lifts that the entry of a flow test starts from, by L/D."""

from __future__ import annotations

from decimal import Decimal

from shopflow.texts import gettext
from shopflow.units import UnitError, from_si, parse

MOST_STEPS = 30


def lifts_by_diameter(head_diameter: str, step: str, last: str, unit: str) -> list[str]:
    """Lifts at equal steps of L/D up to the last, in a unit of length, rounded as they are set.

    Raises UnitError where one of them cannot be read.
    """
    diameter = parse(head_diameter, "length").si
    try:
        every, upto = Decimal(step.strip()), Decimal(last.strip())
    except ArithmeticError:
        raise UnitError(gettext("enter the L/D step like 0.05")) from None
    if not (every.is_finite() and upto.is_finite()) or not (
        0 < every <= upto <= 1 and upto / every <= MOST_STEPS
    ):
        raise UnitError(
            gettext(
                "too many lifts: enter an L/D step of at most {most_steps} steps, up to 1",
                most_steps=MOST_STEPS,
            )
        )
    places = 3 if unit == "in" else 2
    count = int(upto / every)
    return [
        f"{from_si(float(every * number) * diameter, unit):.{places}f}"
        for number in range(1, count + 1)
    ]
