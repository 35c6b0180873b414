"""Shims under springs: each valve's measured height against the one wanted, summed to pick."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass, replace
from decimal import Decimal

from shopflow.calc import shims
from shopflow.models import EngineLimit, Measurement, Shop, When
from shopflow.services.shop import shim_sizes
from shopflow.services.springs.inputs import HEIGHT, SHIM, Inputs
from shopflow.texts import gettext
from shopflow.units import Quantity, from_si, parse, to_si

STEPS = {"in": Decimal("0.005"), "mm": Decimal("0.1")}
"""Steps that shims come in, by unit, where none are on hand. Common practice, no source."""

MM = {"in": Decimal("25.4"), "mm": Decimal(1)}
FINEST = {"in": Decimal("0.0001"), "mm": Decimal("0.001")}
"""Last digit of a thickness of the other system."""


@dataclass(frozen=True)
class Shim:
    """Shims to add at one valve: its height on the shims in now, the one wanted, those between."""

    label: str
    measured: Quantity
    wanted: Quantity
    pieces: tuple[str, ...]
    """Each shim as the shop calls it, the thickest first."""

    thickness: Decimal
    over: Decimal
    """Height over the one wanted, in its unit; below 0 where the spring stands lower."""

    in_now: Quantity | None = None
    """Shims that are in already, and that the height is measured on."""

    lowest: Decimal | None = None
    """Lowest height within limits, in the unit of the one wanted; None where no limit is given."""

    @property
    def is_low(self) -> bool:
        """True where the spring stands too low, which no shim corrects: below its limits or,
        without any, by the least shim there is."""
        if self.lowest is not None:
            return self.over < 0 and Decimal(self.wanted.number) + self.over < self.lowest
        return self.over <= -STEPS[self.wanted.unit]

    @property
    def amount_low(self) -> str:
        """Shortfall of the height in words, as "0.012 in low"."""
        return gettext("{amount} low", amount=f"{-self.over:f} {self.wanted.unit}")

    @property
    def text(self) -> str:
        """Thickness with its unit, as "0.020 in"."""
        return f"{self.thickness} {self.wanted.unit}"

    @property
    def fitted(self) -> Decimal:
        """Height of the spring on its shims, in the unit of the one wanted."""
        return Decimal(self.wanted.number) + self.over - self.thickness

    @property
    def words(self) -> str:
        """Shims to add in words, as "0.045 in of shims (0.030 in + 0.015 in)"."""
        if self.is_low:
            in_now = self.in_now.si if self.in_now is not None else 0.0
            if in_now >= to_si(float(-self.over), self.wanted.unit):
                return gettext("{low}: fit thinner shims", low=self.amount_low)
            return gettext("{low}: cut the pocket or change the retainer", low=self.amount_low)
        if not self.thickness:
            return gettext("no shims")
        thickness = gettext("{thickness} of shims", thickness=self.text)
        return f"{thickness} ({' + '.join(self.pieces)})" if len(self.pieces) > 1 else thickness


def of_side(inputs: Inputs, on_hand: Sequence[Quantity]) -> dict[str, Shim]:
    """Shims of every valve of a side with a measured and a wanted height, by the valve."""
    measured, in_now = inputs.measured(HEIGHT), inputs.measured(SHIM)
    needed = {}
    for label, place in inputs.valves.items():
        wanted = inputs.wanted(place.valve if place else None)
        if label in measured and wanted is not None and wanted.unit in STEPS:
            row, own = measured[label], in_now.get(label)
            standing = standing_height(row, own)
            needed[label] = replace(
                _shim(label, standing, wanted, on_hand),
                in_now=own.value if own is not None else None,
                lowest=_lowest(row, inputs, wanted.unit),
            )
    return needed


def standing_height(height: Measurement, in_now: Measurement | None) -> Quantity:
    """Height of a spring as it stands, on the shims that are in.

    One measured after the work is taken with them in; one from before it, without them.
    """
    if in_now is None or height.when is When.AFTER:
        return height.value
    unit = height.value.unit
    text = f"{from_si(height.value.si - in_now.value.si, unit):.3f}"
    return Quantity(f"{text} {unit}", to_si(float(text), unit))


def _lowest(row: Measurement, inputs: Inputs, unit: str) -> Decimal | None:
    """Lower limit of a height: its own, else that of the engine type."""
    limit: Measurement | EngineLimit | None = inputs.limits.get(HEIGHT)
    if row.lower or row.upper:
        limit = row
    return _height(limit.lower, unit) if limit is not None and limit.lower is not None else None


def to_pick(needed: Sequence[Shim]) -> list[tuple[int, str]]:
    """Count of each shim, the thickest first."""
    counted = Counter(piece for shim in needed for piece in shim.pieces)
    ordered = sorted(counted, key=lambda piece: -parse(piece, "length").si)
    return [(counted[piece], piece) for piece in ordered]


def worst(needed: Sequence[Shim]) -> Shim | None:
    """Valve whose spring stands furthest from the height wanted."""
    return max(needed, key=lambda shim: abs(shim.over), default=None)


def on_hand(shop: Shop | None) -> list[Quantity]:
    """Shims the shop has, as listed in its settings; none where it lists none."""
    return shim_sizes.read(shop.spring_shims) if shop is not None else []


def _shim(label: str, measured: Quantity, wanted: Quantity, sizes: Sequence[Quantity]) -> Shim:
    unit = wanted.unit
    over = _height(measured, unit) - Decimal(wanted.number)
    if not sizes:
        thickness = shims.in_steps(over, STEPS[unit])
        return Shim(label, measured, wanted, _single(thickness, unit), thickness, over)
    by_thickness = {_thickness(size, unit): size.text for size in sizes}
    stack = shims.stack(over, list(by_thickness))
    thickness = sum(stack, Decimal(0))
    if any(size.unit != unit for size in sizes):
        thickness = thickness.quantize(FINEST[unit])
    return Shim(
        label, measured, wanted, tuple(by_thickness[shim] for shim in stack), thickness, over
    )


def _single(thickness: Decimal, unit: str) -> tuple[str, ...]:
    return (f"{thickness} {unit}",) if thickness else ()


def _height(measured: Quantity, unit: str) -> Decimal:
    if measured.unit == unit:
        return Decimal(measured.number)
    return Decimal(f"{from_si(measured.si, unit):.4f}")


def _thickness(size: Quantity, unit: str) -> Decimal:
    return Decimal(size.number) * MM[size.unit] / MM[unit]
