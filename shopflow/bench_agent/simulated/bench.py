"""The simulated bench itself: what is true, and what its instruments make of it."""

from __future__ import annotations

import math
import random
import threading
from dataclasses import dataclass, field
from enum import StrEnum

from shopflow.bench_agent.clock import Clock
from shopflow.units import parse

FULL_LIFT = 0.0165
"""Lift at which the valve of the simulated head flows most, m."""

MOST_FLOW = 150.0
TRUE = {"test pressure": 28.0, "barometer": 992.0, "temperature": 21.0, "humidity": 45.0}
"""Of the conditions, in inH2O, hPa, degC and %."""

NOISE = {"flow": 0.0015, "test pressure": 0.001, "barometer": 2e-5, "temperature": 5e-4,
         "humidity": 1e-3}  # fmt: skip
"""Relative standard deviation of one reading."""


class Fault(StrEnum):
    """Kind of fault of an instrument."""

    NONE = "none"
    NOISE = "noise"
    DRIFT = "drift"
    LAG = "lag"
    DROPPED_BYTES = "dropped bytes"
    LATE_ANSWER = "late answer"
    SWAPPED_WORDS = "swapped words"
    STUCK = "stuck"


@dataclass
class SimulatedBench:
    """A head on a bench: its lift, its flow, and one fault."""

    clock: Clock
    seed: int = 1
    time_constant: float = 0.3
    """Of every instrument, in seconds."""

    fault: Fault = Fault.NONE
    severity: float = 0.0
    """From 0 to 1."""

    _lift: float = 0.0
    _from: dict[str, float] = field(default_factory=dict)
    _since: float = 0.0
    _held: dict[str, float] = field(default_factory=dict)

    def __post_init__(self) -> None:
        self._random = random.Random(self.seed)
        self._lock = threading.Lock()

    def set_lift(self, lift: str, fault: Fault = Fault.NONE, severity: float = 0.0) -> None:
        """Set the valve, as "0.3 in"; the instruments follow it from here on."""
        with self._lock:
            now = self.clock.seconds()
            self._from = {name: self._settling(name, now) for name in NOISE}
            self._lift, self._since = parse(lift, "length").si, now
            self.fault, self.severity = fault, severity
            self._held = {}

    def truth(self, name: str) -> float:
        """A quantity as it is, in the unit that its instrument has."""
        if name != "flow":
            return TRUE[name]
        part = min(self._lift / FULL_LIFT, 1.0)
        return MOST_FLOW * (2.0 * part - part * part)

    def shown(self, name: str) -> float:
        """Number that the instrument of a quantity shows now."""
        with self._lock:
            now = self.clock.seconds()
            value = self._settling(name, now)
            is_at_fault = name in ("flow", "test pressure")
            noise = NOISE[name]
            if self.fault is Fault.NOISE and is_at_fault:
                noise *= 1.0 + 40.0 * self.severity
            if self.fault is Fault.DRIFT and name == "flow":
                value *= 1.0 + 0.03 * self.severity * (now - self._since)
            value *= 1.0 + self._random.gauss(0.0, noise)
            if self.fault is Fault.STUCK and is_at_fault:
                return self._held.setdefault(name, value)
            return value

    def happens(self, fault: Fault, chance: float) -> bool:
        """True where a fault of this kind strikes now."""
        with self._lock:
            return self.fault is fault and self._random.random() < chance * self.severity

    def place_in(self, length: int) -> int:
        """A place in an answer of this length, for a byte to be lost at."""
        with self._lock:
            return self._random.randrange(length)

    def _settling(self, name: str, now: float) -> float:
        """A quantity as an instrument of the first order shows it, without noise."""
        constant = self.time_constant
        if self.fault is Fault.LAG:
            constant *= 1.0 + 5.0 * self.severity
        true = self.truth(name)
        left = math.exp(-(now - self._since) / constant)
        return true + (self._from.get(name, 0.0 if name == "flow" else true) - true) * left
