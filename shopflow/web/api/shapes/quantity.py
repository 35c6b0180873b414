"""Quantities."""

from __future__ import annotations

from dataclasses import dataclass
from typing import overload

from shopflow import units


@dataclass(frozen=True)
class Quantity:
    """As typed with its unit, and in SI units."""

    typed: str
    si: float

    @overload
    @classmethod
    def of(cls, quantity: units.Quantity) -> Quantity: ...

    @overload
    @classmethod
    def of(cls, quantity: units.Quantity | None) -> Quantity | None: ...

    @classmethod
    def of(cls, quantity: units.Quantity | None) -> Quantity | None:
        """A quantity, or none."""
        return None if quantity is None else cls(quantity.text, quantity.si)
