"""Plausibility of typed values: well-formed input that cannot be true of a head is refused."""

from __future__ import annotations

import re
from datetime import datetime, timedelta
from typing import Any

from shopflow.services import fields
from shopflow.services.shop import built_in_kinds
from shopflow.texts import gettext
from shopflow.units import Quantity, from_si, parse

SLACK = timedelta(days=1)
"""Clocks differ, and a test typed without a time zone may be hours off."""

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
    bounds = f"a number from 1 to {cylinders}" if cylinders > 1 else "1"
    return f"'{text.strip()[:40]}' is not a cylinder of this engine: enter {bounds}"


def test_date(measured_at: datetime, now: datetime) -> str:
    """Fault of the date a test was made; empty for none."""
    if measured_at <= now + SLACK:
        return ""
    return f"'{measured_at:%Y-%m-%d}' is in the future: enter the date the test was made"


def value(code: str, dimension: str, **rest: Any) -> fields.Reader:
    """A reader of quantities as `fields.quantity`, within the catalogue's bounds for this kind."""
    reader = fields.quantity(dimension, **rest)
    bounds = built_in_kinds.BOUNDS.get(code)

    def read(typed: Any) -> Quantity | None:
        quantity: Quantity | None = reader(typed)
        if quantity is not None and bounds is not None:
            least, most = (parse(bound, dimension).si for bound in bounds)
            if not least <= quantity.si <= most:
                low, high = (_plain(from_si(si, quantity.unit)) for si in (least, most))
                raise ValueError(
                    gettext(
                        "'{text}' is not a plausible {code}: enter {low} to {high} {unit}, and "
                        "check the unit",
                        text=quantity.text,
                        code=code,
                        low=low,
                        high=high,
                        unit=quantity.unit,
                    )
                )
        return quantity

    return read


def _plain(number: float) -> str:
    """A bound in four digits, without an exponent."""
    return f"{float(f'{number:.4g}'):.10g}"
