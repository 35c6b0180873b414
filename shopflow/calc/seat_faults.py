"""Reasons why no metal can have the shape that a list of seat cuts describes."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from enum import Enum, auto


class Slip(Enum):
    """A reason, and the lengths that tell of it, in m."""

    ANGLE = auto()
    NOT_STEEPER = auto()
    """A cut no steeper than the one before it: its tool would cut that away."""

    NO_CONTACT = auto()
    CONTACT_IS_CYLINDER = auto()
    NO_DIAMETER = auto()
    NO_SIZE = auto()
    """Neither a width nor the diameters that would give it."""

    NO_THROAT = auto()
    """The same of the last cut, which the throat's diameter may end."""

    NO_WIDTH = auto()
    """A cylinder without a height."""

    PAST_AXIS = auto()
    """A cut wider than its radius: its outer diameter."""

    ORDER = auto()
    """A cut that begins no further out than the next: the outer diameters of both."""

    OVERLAP = auto()
    """A cut that ends further in than the next begins: its inner diameter, the next's outer."""

    GAP = auto()
    """A cut that ends before the next begins: its inner diameter, the next's outer."""

    POSITION = auto()
    """The contact elsewhere than stated: its outer diameter by its position, and by the cuts."""

    BLEND = auto()
    """Radii that leave nothing of a face: its width."""

    THROAT = auto()
    """A throat wider than where the last cut ends: both."""


@dataclass(frozen=True, slots=True)
class SeatFault:
    """One reason, at a cut where it concerns one."""

    slip: Slip
    cut: int | None = None
    """Index of the cut that a change would help; None for the seat as a whole."""

    lengths: tuple[float, ...] = ()
    face: int | None = None
    """Index of the cut that suffers, where that is another."""


class SeatError(ValueError):
    """Every reason why a list of cuts is impossible."""

    def __init__(self, faults: Iterable[SeatFault]) -> None:
        self.faults = tuple(faults)
        super().__init__(", ".join(fault.slip.name.lower() for fault in self.faults))
