"""Spring shims a shop has on hand, as its settings list them."""

from __future__ import annotations

from typing import Any

from shopflow.services import fields
from shopflow.texts import gettext
from shopflow.units import Quantity, parse

UNITS = ("in", "mm")
MOST = 12
THICKEST = 0.010
"""m; a shim thicker than that has a wrong unit."""


def read(text: str) -> list[Quantity]:
    """Thicknesses as typed, "0.015 in, 0.030 in". Raises ValueError."""
    parts = [part.strip() for part in text.replace(";", ",").split(",") if part.strip()]
    if len(parts) > MOST:
        raise ValueError(gettext("too many: enter at most {most} thicknesses", most=MOST))
    sizes = [parse(part, "length", UNITS) for part in parts]
    for size in sizes:
        if not 0.0 < size.si <= THICKEST:
            raise ValueError(
                gettext("'{size}' is not the thickness of a shim: check its unit", size=size)
            )
    return sizes


def reader(value: Any) -> str:
    """The list as a setting keeps it: thicknesses with commas between. Raises ValueError."""
    return ", ".join(size.text for size in read(str(fields.text()(value))))
