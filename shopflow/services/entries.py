"""What the entry of a flow test starts from: valve and port as last measured, lifts by L/D."""

from __future__ import annotations

from decimal import Decimal

from shopflow.models import JobHead, Measurement
from shopflow.units import UnitError, from_si, parse

KEYS = {
    "valve head diameter": "head_diameter",
    "stem diameter": "stem_diameter",
    "seat angle": "seat_angle",
    "seat width": "seat_width",
    "throat diameter": "throat_diameter",
    "port area": "area",
}
"""Measurements by their code, and the key of the session file each one is."""

MOST_STEPS = 30


def measured(stay: JobHead, side: str, cylinder: str) -> dict[str, str]:
    """The latest measurements of a valve and its port, by the keys of the session file.

    One of this very cylinder is taken before one of the side alone, a later before an earlier.
    """
    found: dict[str, tuple[bool, str]] = {}
    for row in stay.measurements:
        key = KEYS.get(row.kind.code)
        if key is None or row.side not in ("", side) or not _of_cylinder(row, cylinder):
            continue
        exact = row.cylinder is not None
        if exact or not found.get(key, (False, ""))[0]:
            found[key] = (exact, row.value.text)
    return {key: text for key, (_, text) in found.items()}


def lifts_by_diameter(head_diameter: str, step: str, last: str, unit: str) -> list[str]:
    """Lifts every so much of L/D up to the last, in a unit of length, as one would set them.

    Raises UnitError where one of them cannot be read.
    """
    diameter = parse(head_diameter, "length").si
    try:
        every, upto = Decimal(step.strip()), Decimal(last.strip())
    except ArithmeticError:
        raise UnitError("write L/D as 0.05") from None
    if not (every.is_finite() and upto.is_finite()) or not (
        0 < every <= upto <= 1 and upto / every <= MOST_STEPS
    ):
        raise UnitError(f"L/D in at most {MOST_STEPS} steps, up to 1")
    places = 3 if unit == "in" else 2
    count = int(upto / every)
    return [
        f"{from_si(float(every * number) * diameter, unit):.{places}f}"
        for number in range(1, count + 1)
    ]


def _of_cylinder(row: Measurement, cylinder: str) -> bool:
    return row.cylinder is None or str(row.cylinder) == cylinder
