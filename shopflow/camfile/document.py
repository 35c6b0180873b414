"""A cam as it was typed, and the valve motion it describes in SI."""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal
from typing import Literal

import numpy as np

from shopflow.calc.cam import Lobe, SineSquaredLobe, TabledLobe, ValveMotion
from shopflow.calc.cycle import Engine
from shopflow.units import Quantity, to_si

Side = Literal["intake", "exhaust"]
NO_LASH = Quantity("0 mm", 0.0)


@dataclass(frozen=True, slots=True, kw_only=True)
class LobeDocument:
    """One side of a cam: its lobe as measured, or duration and lift of the stand-in."""

    centreline: Quantity
    """After top dead center of the overlap on the intake, before it on the exhaust."""

    angles: tuple[Decimal, ...] = ()
    """Crank degrees from the lobe's centreline."""

    lifts: tuple[Decimal, ...] = ()
    lift_unit: str = ""
    duration: Quantity | None = None
    max_lobe_lift: Quantity | None = None
    rocker_ratio: Decimal = Decimal(1)
    lash: Quantity = NO_LASH

    @property
    def is_stand_in(self) -> bool:
        """True where the lobe follows a law instead of measurements."""
        return not self.angles

    @property
    def lobe(self) -> Lobe:
        """The lobe, SI but for crank degrees."""
        if self.duration is not None and self.max_lobe_lift is not None:
            return SineSquaredLobe(float(self.duration.number), self.max_lobe_lift.si)
        angles = np.array([float(angle) for angle in self.angles])
        return TabledLobe(angles, np.array([self.lift_si(lift) for lift in self.lifts]))

    def lift_si(self, typed: Decimal) -> float:
        """A lobe lift in m."""
        return to_si(float(typed), self.lift_unit)

    def motion(self, side: Side) -> ValveMotion:
        """The valve's motion. Raises ValueError where the lash leaves no lift."""
        centre = float(self.centreline.number)
        signed = centre if side == "intake" else -centre
        return ValveMotion(self.lobe, signed, float(self.rocker_ratio), self.lash.si)


@dataclass(frozen=True, slots=True, kw_only=True)
class CamDocument:
    """Every key of the cam file; quantities as typed beside their SI values."""

    title: str = ""
    notes: str = ""
    bore: Quantity
    stroke: Quantity
    rod_length: Quantity | None = None
    speed: Quantity
    compression_ratio: Decimal | None = None
    intake_pressure: Quantity | None = None
    exhaust_pressure: Quantity | None = None
    intake_temperature: Quantity | None = None
    intake: LobeDocument
    exhaust: LobeDocument | None = None

    @property
    def engine(self) -> Engine:
        """The engine in SI."""
        return Engine(self.bore.si, self.stroke.si, self.speed.si)

    def lobe_of(self, side: Side) -> LobeDocument | None:
        """The lobe of a side."""
        return self.intake if side == "intake" else self.exhaust

    @property
    def motions(self) -> dict[Side, ValveMotion]:
        """The valve's motion on each side that has a lobe."""
        motions: dict[Side, ValveMotion] = {"intake": self.intake.motion("intake")}
        if self.exhaust is not None:
            motions["exhaust"] = self.exhaust.motion("exhaust")
        return motions
