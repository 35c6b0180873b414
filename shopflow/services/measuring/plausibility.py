"""Plausibility of typed values: well-formed input that cannot be true of a head is refused."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

from shopflow.models import MeasurementKind
from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.units import Quantity, from_si

SLACK = timedelta(days=1)
"""Clocks differ, and a test typed without a time zone may be hours off."""

NEVER_BELOW = -1e-15
"""No clearance, diameter, volume, load or angle of a head is below 0."""

_NUMBER = re.compile(r"\s*([0-9]+)")


def cylinder(text: str, cylinders: int) -> str:
    """Fault of a cylinder's name, as "2 left", on an engine of so many; empty for none.

    >>> cylinder("2 left", 8), cylinder("left", 8)
    ('', '')
    >>> cylinder("99", 8)
    "'99' is not a cylinder of this engine: enter a number from 1 to 8"
    """
    number = _NUMBER.match(text)
    if number is None or 1 <= int(number[1][:9]) <= cylinders:
        return ""
    typed = text.strip()[:40]
    if cylinders > 1:
        return gettext(
            "'{typed}' is not a cylinder of this engine: enter a number from 1 to {cylinders}",
            typed=typed,
            cylinders=cylinders,
        )
    return gettext("'{typed}' is not a cylinder of this engine: enter 1", typed=typed)


def test_date(measured_at: datetime, now: datetime) -> str:
    """Fault of the date a test was made; empty for none."""
    if measured_at <= now + SLACK:
        return ""
    return gettext(
        "'{day}' is in the future: enter the date the test was made",
        day=measured_at.date().isoformat(),
    )


def value(kind: MeasurementKind, **rest: Any) -> fields.Reader:
    """A reader of quantities as `fields.quantity`, within the bounds of a kind of measurement.

    A kind without a lower bound takes nothing below 0.
    """
    if kind.least is None:
        rest = {"above": NEVER_BELOW, **rest}
    reader = fields.quantity(kind.dimension, **rest)

    def read(typed: Any) -> Quantity | None:
        quantity: Quantity | None = reader(typed)
        if quantity is not None and not is_within(kind, quantity.si):
            raise ValueError(
                gettext(
                    "'{text}' is not a plausible {kind}: enter {bounds}, and check the unit",
                    text=quantity.text,
                    kind=kind.name.lower(),
                    bounds=_bounds(kind, quantity.unit),
                )
            )
        return quantity

    return read


def is_within(kind: MeasurementKind, si: float) -> bool:
    """True where a value lies within the bounds of its kind."""
    return (kind.least is None or kind.least.si <= si) and (
        kind.greatest is None or si <= kind.greatest.si
    )


def _bounds(kind: MeasurementKind, unit: str) -> str:
    """A kind's bounds in a unit, as "0.4 to 8 in"."""
    low, high = (
        _plain(from_si(bound.si, unit)) if bound is not None else ""
        for bound in (kind.least, kind.greatest)
    )
    if not high:
        return gettext("{low} {unit} or more", low=low, unit=unit)
    return gettext("{low} to {high} {unit}", low=low or 0, high=high, unit=unit)


def _plain(number: float) -> str:
    """A bound in four digits, without an exponent."""
    return f"{float(f'{number:.4g}'):.10g}"
